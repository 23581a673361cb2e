//! The vocabulary: words and abbreviations as the trade writes them, each with what it stands for.
//!
//! English, German, French and Spanish, with some Italian and Portuguese; the tag words of Project Haystack and the
//! parts of Brick class names are among the English ones. Written without accents, umlauts as ae, oe, ue; a phrase has
//! `_` between its words. A word may stand in several lines: then it carries all of these ideas.
//! Common practice and the two open vocabularies; no source gives such a list.

use super::concepts::Concept::{self, *};

pub static WORDS: &[(&[Concept], &str)] = &[
    // ---- media ----
    (
        &[Chilled],
        "gkw gekoeld_water koudwater kylvatten pcw mpcw process_cooling_water process_cooling icw chi_wat chlw chlwtr chw_wtr ltchw htchw chilled_wtr process_chilled_water ch_w chw klt klte chilled chilled_water chwtr chldw chl_wtr ch_wtr chilledwater kaltwasser kaw kaelte eau_glacee eauglacee \
        agua_fria agua_helada agua_refrigerada agua_enfriada agua_gelada acqua_refrigerata acqua_fredda refrigerata \
        kuehlwasser_netz kaltwassernetz ltchw ckw kkr kuehlkreis kaeltekreis kaelteverteiler kaltw frio_circuito kwnetz glacee helada gelada",
    ),
    (
        &[Heating],
        "low_temp_hw med_temp_hw medium_temp_hw high_temp_hw low_temperature_hw high_temperature_hw med_temp_hot_water low_temp_hot_water low_temperature_hot_water medium_temp_hot_water medium_temperature_hot_water high_temp_hot_water high_temperature_hot_water hot_wat hea_wat rhw reheat_hot_water htw ltw htg_hot_water vt_circuit ct_circuit vt_heating ct_heating variable_temp_circuit constant_temp_circuit heating_circuit radiator_circuit radiator_loop circuit_radiateurs circuito_radiadores plancher_chauffant ghw glycol_hot_water hot_glycol rad_cct rad_circuit rad_ckt radiation_loop perimeter_heating perimeter_heat statische_heizung stat_heizung htzg hhw hw hot_water heating heating_water hot_wtr hotwater lthw mthw hthw lphw mphw heizung heizkreis heizwasser hk hzg hzk \
        heiz heizungs heizungswasser heizkoerper chauffage eau_chaude calefaccion agua_caliente calef riscaldamento acqua_calda \
        aquecimento agua_quente warmwasser_heizung fussbodenheizung fbh radiateurs radiadores radiatori plancher_chauffant htg_wtr htgw htw \
        suelo_radiante waerme waermenetz fernwaerme district_heating eau_surchauffee heizgruppe htg_water verwarming varme vaerme grzewcz ogrzewanie cal calef_ hkr",
    ),
    (
        &[Condenser],
        "con_wat tower_loop tower_circuit tower_water_loop ct_loop cooling_tower_loop condenser_loop cdws_loop cw condenser_water cdw cndw cond_water cond_wtr cwtr tower_water kuehlwasser rueckkuehlwasser eau_de_condensation \
        eau_condenseur eau_tour agua_condensacion agua_de_condensacion agua_torre acqua_di_condensazione acqua_torre rueckkuehlkreis kondensatorwasser",
    ),
    (&[Condenser, Supply], "tws"),
    (&[Chilled, Plant], "chiller_plant cooling_plant"),
    (&[Heating, Plant], "boiler_plant heating_plant"),
    (&[Coil, Heat], "phc phcoil"),
    (&[Water], "water wtr wasser eau agua acqua hydronic glycol brine sole glykol"),
    (
        &[SupplyAir],
        "air_sup air_dis air_supply air_discharge air_off air_leaving off_air disch_air ausblas ausblasluft ausblastemperatur leaving_air aire_impulsado supair tilluft inblaas inblaaslucht inblaastemperatuur toevoerlucht souf souffl zu_t zuluftt sa da supply_air discharge_air disch_air dis_air supply_fan_air zuluft zul soufflage \
        aire_impulsion impulsion_aire aire_de_impulsion insuflacao insuflamento mandata_aria aria_mandata aria_di_mandata \
        splair sup_air spl_air leaving_air lvg_air ar_de_insuflacao air_souffle",
    ),
    (&[SupplyAir], "cold_deck hot_deck"),
    (&[SupplyAir, Temperature], "discharge_air_temperature tsouf t_souf timpul_aire dat sat lat dat_t satemp"),
    (
        &[ReturnAir],
        "franluft afzuig retourlucht ra return_air rtn_air ret_air abluft reprise aire_retorno aire_de_retorno retorno_aire air_repris aria_ripresa ripresa umluft",
    ),
    (&[ReturnAir, Temperature], "rat"),
    (
        &[MixedAir],
        "ma mixed_air mix_air mischluft mezcla melange miscela mistura entering_air ent_air aire_mezcla preheat_air",
    ),
    (&[MixedAir, Temperature], "on_coil on_coil_temp oncoil before_coil mat"),
    (
        &[Outdoor],
        "out_dry_bul out_dry_bulb dry_bul oa external extern oadb oatemp_ outdoor outside out_air outside_air outdoor_air osa ambient aussen aussenluft exterieur exterieure exterior ext esterna esterno externa externo \
        aul outair out_dr outsideair outdoorair drybulb dry_bulb witterungsfuehler aussenfuehler sonde_exterieure sonda_exterior buiten ute utomhus utetemp zewn weather weather_station wetterstation wetter wet o_a outd odt meteo amb_air fresh_air_temperature ambient_air outdr outs dry_bulb_outdoor",
    ),
    (
        &[Outdoor, Temperature],
        "sonde_exterieure sonda_exterior sonde_ext sonda_ext buitentemperatuur drybulb dry_bulb witterungsfuehler aussenfuehler aussentemperaturfuehler oadb oadbt odt toa t_oa tout_air oat osat oatemp aussentemperatur aussentemp atf outside_temp",
    ),
    (&[ExhaustAir], "ea exhaust_air exhaust exh fortluft relief extract abzug extraction extraccion relief_air"),
    (&[Air], "air luft aire aria"),
    (
        &[Domestic],
        "dhws_ dhwp dhw_pump calorifier hws_cal main_water water_main main_water_meter city_water_meter incoming_water cold_water_meter domestic_water hot_water_heater water_heater hwh water_meter chauffe_eau termo_acs legionella hygiene dhw dhwr dhws dcw domestic potable ecs acs bww tww ww warmwasser trinkwasser trinkwarmwasser sanitaire sanitaria brauchwasser tww_zirk \
        zirkulation bouclage recirculacion_acs hwc dhwc cwm mains_water boosted_cold_water cws_tank aqs dhwrt dhwst acqua_sanitaria boiler_ww \
        eau_froide_sanitaire eau_de_ville city_water town_water agua_potable agua_de_red trinkw dom_hw dom_hot_water dom",
    ),
    (
        &[Foreign],
        "mu_flow mu_water mu_wtr makeup_flow makeup_meter fill_flow appoint_eau gaszaehler wasserzaehler oelzaehler gas_meter gas gaz steam stm dampf vapeur vapor vapore fuel oil gasoil oel fioul gasoleo condensate kondensat condensat condensado rain \
        make_up makeup mu_water makeup_water appoint nachspeisung reposicion refill feedwater irrigation pool piscine piscina schwimmbad compressed_air druckluft \
        snow ice_storage ice sewage waste_water grey_water drain lift_station vacuum medical nitrogen treatment softener osmosis reclaim",
    ),
    // ---- equipment ----
    (
        &[Pump],
        "pum pompa_ tsa_pomp bom bomb pom pomp pump pmp pu pumpe pompe bomba pompa circulateur circolatore umwaelzpumpe kreispumpe circulator circ_pump upe uwp hkp primaerpumpe sekundaerpumpe \
        pomppu pumpa kaltwasserpumpe heizungspumpe netzpumpe circ bba ppe zubringerpumpe kesselpumpe circulador electrobomba circulation_pump doppelpumpe pmpe",
    ),
    (
        &[Pumps],
        "pmps pumpenanlage pps pump_group pumpengruppe pumpenleistung groupe_de_pompes grupo_de_bombas pumping_power pumping bombeo pompage pumps pumpen pompes bombas",
    ),
    (
        &[OtherPump],
        "snowmelt snow_melt heat_trace spa storm stormwater hydraulic_pump grinder washdown effluent slurry hydrant wet_riser deluge solar_pump solarpumpe pompe_solaire bomba_solar feed chlorine chlor lift_pump acid biocide fill transfer incendios riego arrosage pozo puits fosse fosa septic borehole fountain lube lubrication drainage entwaesserung schwimmbadpumpe speisepumpe feed_pump sump fire sprinkler jockey dosing chemical chem fuel_oil booster druckerhoehung relevage surpresseur achique incendie \
        hebeanlage loeschwasser dosier dosierpumpe dosificadora achique_pozo puisard vide_cave lifting well_pump ejector grupo_presion presurizacion \
        feuerloeschpumpe feuerloesch antincendio desinfektion tauchpumpe schmutzwasser seal_water",
    ),
    (
        &[Fan],
        " fan fans ventilator ventilateur ventilador ventilatore luefter sf rf ef vsf supply_fan discharge_fan zuluftventilator abluftventilator vent fn \
        gaine_ventilateur exhaust_fan return_fan sfan rfan raf blower extractor extracteur",
    ),
    (
        &[SupplyAir, Fan],
        "sup_fan spl_fan sply_fan suply_fan sup_air_fan sa_fan saf zuv sf saf supply_fan discharge_fan zuluftventilator ventilateur_de_soufflage ventilateur_soufflage ventilador_impulsion ventilador_de_impulsion",
    ),
    (
        &[ReturnAir, Fan],
        "ret_fan rtn_fan exh_fan ra_fan ea_fan abv rf raf return_fan abluftventilator ventilateur_reprise ventilador_retorno relief_fan exhaust_fan ef ventilateur_d_extraction fortluftventilator ventilador_extraccion",
    ),
    (
        &[Coil],
        "heater_battery heating_battery cooling_battery frost_battery reheat_battery preheat_battery cooler_battery coi coil batterie bateria kuehler erhitzer lufterhitzer luftkuehler register vorerhitzer nacherhitzer heizregister kuehlregister batteria reheat_coil serpentin serpentina bobine",
    ),
    (
        &[Coil, Cooling],
        "cooling_battery cooler_battery bf_ batt_froide bat_froide bat_frio bat_froid batterie_eg clg_coil cooling_coil cc kue kueh kuehler luftkuehler batterie_froide bateria_frio bateria_de_frio kuehlregister ccoil coil_cooling",
    ),
    (
        &[Coil, Heat],
        "heater_battery heating_battery frost_battery reheat_battery preheat_battery bc_ batt_chaude bat_chaude bat_calor bat_chaud batterie_ec htg_coil heating_coil hc erh vhe erhitzer lufterhitzer batterie_chaude bateria_calor bateria_de_calor heizregister preheat_coil hcoil",
    ),
    (
        &[Unit],
        "vu pau sahu oahu smahu hvu ukg tka vvt sdv ddv chb chbm ch_bm chld_bm fsb pib ttu rahu fahu eahu ahu_unit lbk cuh cabinet_unit_heater cabinet_heater eru mua rau cav cavb vrv_unit bat_terminal clima lue rlta luft_anlage cta_ utas ahu ah rtu mau doas fcu vav fcv fc ac acu air_handler air_handling_unit airhandler rlt uta cta climatizadora climatizador fancoil fan_coil ventilo \
        ventiloconvecteur ventilo_convecteur vcv uh unit_heater uv unit_ventilator crac crah tbx chilled_beam beam radiator heizkoerper radiateur radiador lueftungsgeraet \
        lueftung lueftungsanlage geblaesekonvektor gebk fpb fptu mau erv hru pau oau utx unidad_terminal unita_trattamento_aria ventilconvettore dachgeraet konvektor convecteur \
        zag vcu tu tfa klimageraet klimaanlage teilklimaanlage cassette deckensegel kuehldecke lufterhitzeranlage hvu fahu iu pfcu lta",
    ),
    (
        &[Room],
        "cold_aisle hot_aisle aisle zon roo foyer ida_room isolation_room isolation_ward cleanroom clean_room bur desp hab ofi thermostat tstat t_stat ward reception canteen restaurant cafe kitchen_area bedroom suite apartment server_room waiting_area nurse_station showroom shop retail gallery ruimte kamer rum vaerelse pokoj besprechung empfang flurbereich salle_de_reunion accueil recepcion comedor restaurante hall open_plan auditorium theatre corridor atrium studio gym flur bibliothek library halle hoersaal klassenraum couloir hall_ aula_magna pasillo amphi reunion amb raumt tamb room rm zone zn space raum zimmer salle bureau sala despacho habitacion oficina aula ambiante ambiance ambiente chambre piece office lab classroom zna \
        buero conference meeting lobby local stanza ufficio raumtemp zt_room gabinete espace",
    ),
    (
        &[Room, Temperature],
        "tamb zt zntmp rmtmp rmt znt zat spt_room raumtemperatur raumtemp zntemp rmtemp zone_temp space_temp",
    ),
    (
        &[Source],
        "ashp wshp gshp awhp wwhp wcc wcch acch wch ach boi chilr chllr air_source_heat_pump cogeneration ketel koelmachine koudemachine warmtepomp kylmaskin panna hrc heat_recovery_chiller geg gec luft_wasser_waermepumpe luft_wasser wp_luft_wasser sole_wasser cooling_machine refrigeration_machine chilling_machine chiller chlr chl chllr boiler blr boil kessel heizkessel kaeltemaschine groupe_froid enfriadora caldera chaudiere heat_pump waermepumpe pompe_a_chaleur \
        bomba_de_calor gruppo_frigo gruppo_frigorifero caldaia caldeira ref_machine km kaltwassersatz kws kwsatz groupe refroidisseur planta_enfriadora chauffe pac gf enf \
        kaltwassererzeuger waermeerzeuger kes refrigeratore pompa_di_calore chh blh bhkw grupo_frigorifico groupe_frigorifique groupe_d_eau_glacee groupe_eau_glacee",
    ),
    (
        &[Source, Exchanger],
        "converter cnvtr hw_converter hx phe heat_exchanger hex waermetauscher waermeuebertrager echangeur intercambiador scambiatore phx plattenwaermetauscher uebergabestation hxr",
    ),
    (
        &[Tower],
        "tower ctwr cooling_tower tour_de_refroidissement torre_de_refrigeracion torre tour tar aerorefrigerant rueckkuehler kuehlturm dry_cooler drycooler rueckkuehlwerk torre_evaporativa aeroterm \
        fluid_cooler cell basin rkw aerorefroidisseur twr",
    ),
    (
        &[Machine],
        "oil_pressure engine_coolant compressor compr comp verdichter compresseur compresor cond condenser kondensator condenseur condensador condensatore slide igv vane firing burner flue rla fla brenner bruleur quemador \
        abgas fumees humos superheat subcooling absorber generator_set lift approach ofen modulation isokinetic unload unloader capacity inverter_pv cond_fan",
    ),
    (&[Evaporator], "evap evaporator verdampfer evaporateur evaporador evaporatore evp"),
    (
        &[Damper],
        "air_valve airvalve damper dmpr dmp dpr klappe klappenstellung registre compuerta serranda oad mad rad ead iris oadmpr comporta jalousie klappen louvre louver volet clapet_air",
    ),
    (
        &[Filter],
        "filter filt filtre filtro strainer schmutzfaenger filterueberwachung flt_dp ensuciamiento encrassement fltr",
    ),
    (
        &[Valve],
        "vv kuev heizv erhv vf_ valve vlv vlve ventil vanne valvula valvola valv v2v v3v v_2_v v_3_v stellventil regelventil cv mv vp electrovanne kv hv ccv hcv stellantrieb valveposition ventilstellung rv rhv kuehlventil heizventil \
        tcv vbf vbc klep afsluiter ventiel ventilstaellning kuehlerventil erhitzerventil ventilhub actuator clgv htgv pibcv picv mischer mischventil servomotor",
    ),
    (&[Valve, Cooling], "vfr vfroid vbf ccv kuehlventil clgv kuehlerventil"),
    (&[Valve, Heat], "vch vchaud vbc hcv heizventil htgv erhitzerventil"),
    (&[Valve, Reheat], "rhv"),
    (
        &[Bypass],
        "bipasse by_passe bypassklappe dcplr decplr crossover cross_over overflow_valve overflow_vlv vbyp min_flow_valve minimum_flow_valve min_flow_bypass_valve minimum_flow_bypass_valve minimum_flow_bypass mfv bypass byp bp bypassventil bypassvalve decoupler decouple bypass_valve minflow min_flow_bypass mfbv by_pass byv ueberstroemventil ueberstroem differenzdruckueberstroemer common_pipe bouteille_de_decouplage byps \
        hydraulische_weiche weiche common_leg mindestmengenventil",
    ),
    (
        &[Bypass, Valve],
        "bypassklappe vanne_bipasse overflow_valve overflow_vlv bypass_valve bypass_vlv vbyp vbp min_flow_valve minimum_flow_valve min_flow_bypass_valve minimum_flow_bypass_valve minimum_flow_bypass mfv vanne_bypass_ mbv byv mfbv bypassventil bpv ueberstroemventil byvlv bypv mindestmengenventil",
    ),
    (
        &[Meter],
        "chwm hwm hhwm cptr cpt compt meter mtr fm btu btum wmz kmz waermemengenzaehler waermezaehler kaeltezaehler kaeltemengenzaehler compteur contador contatore zaehler flowmeter medidor energy_meter btu_meter \
        heat_meter caudalimetro debitmetre debimetre compteur_energie misuratore flow_meter contador_energia ultraschall submeter durchflussmesser debitometre thermal_meter",
    ),
    (
        &[Drive],
        "frequency_converter vfd vsd drive drv fu frequenzumrichter umrichter variateur variador inverter freq_converter variador_frecuencia asd vf variatore varspeed fq",
    ),
    (&[Motor], "motor mot mtr_motor moteur"),
    (&[Duct], "duct kanal gaine conducto condotto conduit plenum"),
    (&[Building], "bldg"),
    (
        &[Electrical],
        "elevator lift_motor aufzug ascenseur ascensor lighting light lights beleuchtung eclairage iluminacion pv solar photovoltaic panel switchboard mdb msb tgbt cuadro schaltanlage transformer trafo ups generator genset charger receptacle plug \
        busbar main_incomer mains incomer distribution_board socket kitchen server rack luminaire alumbrado nhv nshv feeder battery akku escalator parking tenant stromzaehler general_electric cafetaria photovoltaique",
    ),
    (
        &[Tank],
        "tank tnk speicher ballon acumulador deposito serbatoio puffer pufferspeicher buffer expansion ausdehnungsgefaess vase vaso reservoir cistern storage depot",
    ),
    (
        &[Loop],
        "cct ckt loop system sys network netz reseau circuit circuito anillo kreis rete impianto sistema circ_loop ring riser strang verbraucher main line distribution verteiler verteilung red primary secondary tertiary pri sec prim primaer sekundaer primaire secondaire primario secundario secondario coll_general rede anlage colonne",
    ),
    (
        &[Plant],
        "mech_rm plantrm installation boiler_house chiller_yard chiller_house boiler_hall boilerhouse chiller_hall mechanical_room mech_room boiler_room chiller_room machine_room heizraum technikraum local_technique sala_maquinas sala_de_maquinas production produccion erzeugung kaelteanlage heizanlage kaltwasseranlage kaeltezentrale heizzentrale plant zentrale anlage centrale central planta centrale_termica plant_room instalacion",
    ),
    (&[Header], "header hdr collecteur colector sammler collettore common sammelleitung manifold"),
    (
        &[Isolation],
        "isolation iso isol shutoff absperr absperrklappe isolement corte isolv intercettazione changeover umschaltventil drain_valve butterfly",
    ),
];
