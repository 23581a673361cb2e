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
        "ch_w chw chilled chilled_water chwtr chldw chl_wtr ch_wtr chilledwater kaltwasser kaw kaelte eau_glacee eauglacee \
        agua_fria agua_helada agua_refrigerada agua_enfriada agua_gelada acqua_refrigerata acqua_fredda refrigerata \
        kuehlwasser_netz kaltwassernetz ltchw ckw kkr kuehlkreis kaeltekreis kaelteverteiler kaltw frio_circuito kwnetz glacee helada gelada",
    ),
    (
        &[Heating],
        "hhw hw hot_water heating heating_water hot_wtr hotwater lthw mthw hthw lphw mphw heizung heizkreis heizwasser hk hzg hzk \
        heiz heizungs heizungswasser heizkoerper chauffage eau_chaude calefaccion agua_caliente calef riscaldamento acqua_calda \
        aquecimento agua_quente warmwasser_heizung fussbodenheizung fbh radiateurs radiadores radiatori plancher_chauffant htg_wtr htgw htw \
        suelo_radiante waerme waermenetz fernwaerme district_heating eau_surchauffee heizgruppe htg_water lphws lthws",
    ),
    (
        &[Condenser],
        "cw condenser_water cdw cndw cond_water cond_wtr cdws cwtr tower_water kuehlwasser rueckkuehlwasser eau_de_condensation \
        eau_condenseur eau_tour agua_condensacion agua_de_condensacion agua_torre acqua_di_condensazione acqua_torre rueckkuehlkreis kondensatorwasser",
    ),
    (&[Water], "water wtr wasser eau agua acqua hydronic glycol brine sole glykol"),
    (
        &[SupplyAir],
        "souf souffl zu_t zuluftt sa da supply_air discharge_air discharge_air_temperature disch_air dis_air supply_fan_air zuluft zul soufflage \
        aire_impulsion impulsion_aire aire_de_impulsion insuflacao insuflamento mandata_aria aria_mandata aria_di_mandata \
        splair sup_air spl_air leaving_air lvg_air ar_de_insuflacao air_souffle",
    ),
    (&[SupplyAir, Temperature], "dat sat lat dat_t satemp"),
    (
        &[ReturnAir],
        "ra return_air rtn_air ret_air abluft reprise aire_retorno aire_de_retorno retorno_aire air_repris aria_ripresa ripresa umluft",
    ),
    (&[ReturnAir, Temperature], "rat"),
    (
        &[MixedAir],
        "ma mixed_air mix_air mischluft mezcla melange miscela mistura entering_air ent_air aire_mezcla preheat_air",
    ),
    (&[MixedAir, Temperature], "on_coil on_coil_temp oncoil before_coil mat"),
    (
        &[Outdoor],
        "oa external extern oadb oatemp_ outdoor outside out_air outside_air outdoor_air osa ambient aussen aussenluft exterieur exterieure exterior ext esterna esterno externa externo \
        weather weather_station wetterstation wetter wet o_a outd odt meteo amb_air fresh_air_temperature ambient_air outdr outs dry_bulb_outdoor",
    ),
    (
        &[Outdoor, Temperature],
        "oadb oadbt odt toa t_oa tout_air oat osat oatemp aussentemperatur aussentemp atf outside_temp",
    ),
    (&[ExhaustAir], "ea exhaust_air exhaust exh fortluft relief extract abzug extraction extraccion relief_air"),
    (&[Air], "air luft aire aria"),
    (
        &[Domestic],
        "dhw dhwr dhws dcw domestic potable ecs acs bww tww ww warmwasser trinkwasser trinkwarmwasser sanitaire sanitaria brauchwasser tww_zirk \
        zirkulation bouclage recirculacion_acs hwc dhwc cwm mains_water boosted_cold_water cws_tank aqs dhwrt dhwst acqua_sanitaria boiler_ww \
        eau_froide_sanitaire eau_de_ville city_water town_water agua_potable agua_de_red trinkw dom_hw dom_hot_water dom",
    ),
    (
        &[Foreign],
        "gas gaz steam stm dampf vapeur vapor vapore fuel oil gasoil oel fioul gasoleo condensate kondensat condensat condensado rain \
        make_up makeup mu_water makeup_water appoint nachspeisung reposicion refill feedwater irrigation pool piscine piscina schwimmbad compressed_air druckluft \
        snow ice_storage ice sewage waste_water grey_water drain lift_station vacuum medical nitrogen treatment softener osmosis reclaim",
    ),
    // ---- equipment ----
    (
        &[Pump],
        "bom bomb pom pomp pump pmp pu pumpe pompe bomba pompa circulateur circolatore umwaelzpumpe kreispumpe circulator circ_pump upe uwp hkp primaerpumpe sekundaerpumpe \
        kaltwasserpumpe heizungspumpe netzpumpe circ bba ppe zubringerpumpe kesselpumpe circulador electrobomba circulation_pump doppelpumpe pmpe",
    ),
    (
        &[Pumps],
        "pump_group pumpengruppe pumpenleistung groupe_de_pompes grupo_de_bombas pumping_power pumping pumps pumpen pompes bombas",
    ),
    (
        &[OtherPump],
        "solar_pump solarpumpe pompe_solaire bomba_solar feed chlorine chlor lift_pump acid biocide fill transfer incendios riego arrosage pozo puits fosse fosa septic borehole fountain lube lubrication drainage entwaesserung schwimmbadpumpe speisepumpe feed_pump sump fire sprinkler jockey dosing chemical chem fuel_oil booster druckerhoehung relevage surpresseur achique incendie \
        hebeanlage loeschwasser dosier dosierpumpe dosificadora achique_pozo puisard vide_cave lifting well_pump ejector grupo_presion presurizacion \
        feuerloeschpumpe feuerloesch antincendio desinfektion tauchpumpe schmutzwasser seal_water",
    ),
    (
        &[Fan],
        "fan fans ventilator ventilateur ventilador ventilatore luefter sf rf ef vsf supply_fan discharge_fan zuluftventilator abluftventilator vent fn \
        gaine_ventilateur exhaust_fan return_fan sfan rfan raf blower extractor extracteur",
    ),
    (
        &[SupplyAir, Fan],
        "sf saf supply_fan discharge_fan zuluftventilator ventilateur_de_soufflage ventilateur_soufflage ventilador_impulsion ventilador_de_impulsion",
    ),
    (
        &[ReturnAir, Fan],
        "rf raf return_fan abluftventilator ventilateur_reprise ventilador_retorno relief_fan exhaust_fan ef ventilateur_d_extraction fortluftventilator ventilador_extraccion",
    ),
    (
        &[Coil],
        "coil batterie bateria kuehler erhitzer lufterhitzer luftkuehler register vorerhitzer nacherhitzer heizregister kuehlregister batteria reheat_coil serpentin serpentina bobine",
    ),
    (
        &[Coil, Cooling],
        "clg_coil cooling_coil cc kue kueh kuehler luftkuehler batterie_froide bateria_frio bateria_de_frio kuehlregister ccoil coil_cooling",
    ),
    (
        &[Coil, Heat],
        "htg_coil heating_coil hc erh vhe erhitzer lufterhitzer batterie_chaude bateria_calor bateria_de_calor heizregister preheat_coil hcoil",
    ),
    (
        &[Unit],
        "cav cavb vrv_unit bat_terminal clima lue rlta luft_anlage trane_ cta_ utas ahu ah rtu mau doas fcu vav fcv fc ac acu air_handler air_handling_unit airhandler rlt uta cta climatizadora climatizador fancoil fan_coil ventilo \
        ventiloconvecteur ventilo_convecteur vcv uh unit_heater uv unit_ventilator crac crah tbx chilled_beam beam radiator heizkoerper radiateur radiador lueftungsgeraet \
        lueftung lueftungsanlage geblaesekonvektor gebk fpb fptu mau erv hru pau oau utx unidad_terminal unita_trattamento_aria ventilconvettore dachgeraet konvektor convecteur \
        zag vcu tu tfa klimageraet klimaanlage teilklimaanlage cassette deckensegel kuehldecke lufterhitzeranlage hvu fahu iu pfcu lta",
    ),
    (
        &[Room],
        "hall open_plan auditorium theatre corridor atrium studio gym flur bibliothek library halle hoersaal klassenraum couloir hall_ aula_magna pasillo amphi reunion amb raumt tamb room rm zone zn space raum zimmer salle bureau sala despacho habitacion oficina aula ambiante ambiance ambiente chambre piece office lab classroom zna \
        buero conference meeting lobby local stanza ufficio raumtemp zt_room gabinete espace",
    ),
    (
        &[Room, Temperature],
        "zt zntmp rmtmp rmt znt zat spt_room raumtemperatur raumtemp zntemp rmtemp zone_temp space_temp",
    ),
    (
        &[Source],
        "chiller chlr chl chllr boiler blr boil kessel heizkessel kaeltemaschine groupe_froid enfriadora caldera chaudiere heat_pump waermepumpe pompe_a_chaleur \
        bomba_de_calor gruppo_frigo gruppo_frigorifero caldaia caldeira ref_machine km kaltwassersatz kws kwsatz groupe refroidisseur planta_enfriadora chauffe pac gf enf \
        kaltwassererzeuger waermeerzeuger kes refrigeratore pompa_di_calore chh blh bhkw grupo_frigorifico groupe_frigorifique groupe_d_eau_glacee groupe_eau_glacee",
    ),
    (
        &[Source, Exchanger],
        "hx phe heat_exchanger hex waermetauscher waermeuebertrager echangeur intercambiador scambiatore phx plattenwaermetauscher uebergabestation hxr",
    ),
    (
        &[Tower],
        "tower ctwr cooling_tower tour_de_refroidissement torre_de_refrigeracion torre tour tar aerorefrigerant rueckkuehler kuehlturm dry_cooler drycooler rueckkuehlwerk torre_evaporativa aeroterm \
        fluid_cooler cell basin rkw aerorefroidisseur twr",
    ),
    (
        &[Machine],
        "compressor compr comp verdichter compresseur compresor cond condenser kondensator condenseur condensador condensatore slide igv vane firing burner flue rla fla brenner bruleur quemador \
        abgas fumees humos superheat subcooling absorber generator_set lift approach ofen modulation isokinetic unload unloader capacity inverter_pv cond_fan",
    ),
    (&[Evaporator], "evap evaporator verdampfer evaporateur evaporador evaporatore evp"),
    (
        &[Damper],
        "damper dmpr dmp dpr klappe klappenstellung registre compuerta serranda oad mad rad ead iris oadmpr comporta jalousie klappen louvre louver volet clapet_air",
    ),
    (
        &[Filter],
        "filter filt filtre filtro strainer schmutzfaenger filterueberwachung flt_dp ensuciamiento encrassement fltr",
    ),
    (
        &[Valve],
        "kuev heizv erhv vf_ valve vlv vlve ventil vanne valvula valvola valv v2v v3v stellventil regelventil cv mv vp electrovanne kv hv ccv hcv stellantrieb valveposition ventilstellung rv rhv kuehlventil heizventil \
        kuehlerventil erhitzerventil ventilhub actuator clgv htgv pibcv picv mischer mischventil servomotor",
    ),
    (&[Valve, Cooling], "ccv kuehlventil clgv kuehlerventil"),
    (&[Valve, Heat], "hcv heizventil htgv erhitzerventil"),
    (&[Valve, Reheat], "rhv"),
    (
        &[Bypass],
        "bypass byp bp bypassventil bypassvalve decoupler decouple bypass_valve minflow min_flow_bypass mfbv by_pass byv ueberstroemventil ueberstroem differenzdruckueberstroemer common_pipe bouteille_de_decouplage byps \
        hydraulische_weiche weiche common_leg mindestmengenventil",
    ),
    (&[Bypass, Valve], "mbv byv mfbv bypassventil bpv ueberstroemventil byvlv bypv mindestmengenventil"),
    (
        &[Meter],
        "chwm hwm hhwm cptr cpt compt meter mtr fm btu btum wmz kmz waermemengenzaehler waermezaehler kaeltezaehler kaeltemengenzaehler compteur contador contatore zaehler flowmeter medidor energy_meter btu_meter \
        heat_meter caudalimetro debitmetre debimetre compteur_energie misuratore flow_meter contador_energia ultraschall submeter durchflussmesser debitometre thermal_meter",
    ),
    (
        &[Drive],
        "vfd vsd drive drv fu frequenzumrichter umrichter variateur variador inverter freq_converter variador_frecuencia asd vf variatore varspeed fq",
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
        "loop system sys network netz reseau circuit circuito anillo kreis rete impianto sistema circ_loop ring riser strang verbraucher main line distribution verteiler verteilung red primary secondary tertiary pri sec prim primaer sekundaer primaire secondaire primario secundario secondario coll_general rede anlage colonne",
    ),
    (
        &[Plant],
        "production produccion erzeugung kaelteanlage heizanlage kaltwasseranlage kaeltezentrale heizzentrale plant zentrale anlage centrale central planta centrale_termica plant_room instalacion",
    ),
    (&[Header], "header hdr collecteur colector sammler collettore common sammelleitung manifold"),
    (
        &[Isolation],
        "isolation iso isol shutoff absperr absperrklappe isolement corte isolv intercettazione changeover umschaltventil drain_valve butterfly",
    ),
    // ---- quantities ----
    (
        &[Speed],
        "veloc veloci vitess drehzahlen speed spd drehzahl vitesse velocidad velocita velocidade rpm dz drz spdfbk geschwindigkeit vit vel umdrehungen tr_min spe_ed regime_moteur vitesse_rotation revs drehz rotation giri",
    ),
    (
        &[Speed, Command],
        "speed_control spd_ctl speed_ctrl spd_ctrl drehzahlvorgabe drehzahlsollwert drehzahl_stellsignal",
    ),
    (&[Speed, Feedback], "drehzahlrueckmeldung drehzahlistwert spdfb spdfbk"),
    (&[Heating, Thermal], "waerme fernwaerme district_heating waermenetz"),
    (&[Chilled, Thermal], "fernkaelte district_cooling"),
    (&[Room, Setpoint, Temperature], "rmsp znsp zsp ztsp rmtsp zntsp raumsollwert raumsoll"),
    (&[SupplyAir, Setpoint, Temperature], "datsp satsp dasp sasp"),
    (&[SupplyAir, Temperature], "off_coil after_coil coil_leaving_air off_coil_temp offcoil tzul tzu"),
    (&[Heating, Pump], "hkp heizungspumpe heizkreispumpe"),
    (&[Chilled, Pump], "kaltwasserpumpe"),
    (&[Speed, Frequency], "hz freq frequency frequenz frequence frecuencia frequenza frequencia herz hertz"),
    (
        &[Power],
        "puis_ leistg power pwr kw kilowatt watt watts leistung puissance potencia potenza wirkleistung pel active_power elec_power electric_power hp_power demand_kw wirkl puiss potenza_assorbita pot leist",
    ),
    (
        &[Power, Electric],
        "pel wirkleistung active_power puissance_active potencia_activa elektrische_leistung puissance_electrique potencia_electrica electric_power elec_active_power puissance_absorbee leistungsaufnahme potenza_assorbita aufnahmeleistung potenza_attiva",
    ),
    (
        &[Energy],
        "kwh mwh energy energie energia energiezaehler arbeit wh kwhr consumption consommation consumo verbrauch stromverbrauch wirkarbeit elec_energy energie_active consommee",
    ),
    (
        &[Status],
        "sta running_feedback proof_of_flow current_switch flow_proof cs run_proof prv proving aux_contact laufrueckmeldung in_operation active status sts stat run running running_status state proof on_off_status betrieb betriebsmeldung bm etat marche estado run_status laeuft ein laufmeldung stato funzionamento lauf rmld betr betriebsm \
        confirmation_marche confirmacion_marcha marcha retour_de_marche retour_marche retour_d_etat funcionamento stat_us onoff run_sts runsts run_fbk confirmacion en_marche en_service enmarcha fonctionnement operating operation ist_ein rueckmeldung_betrieb running_signal en_marcha marcia in_betrieb run_state runfbk rstat",
    ),
    (
        &[Flow],
        "fit ft_ fr flowr flowmtr durchsatz foerderstrom foerdermenge flow flo flw volumenstrom debit caudal portata vazao durchfluss gpm lps m_3_h cmh durchflussmenge flowrate flow_rate volume_flow vs volstrom gasto waterflow lpm usgpm debits durchfl",
    ),
    (
        &[AirFlow],
        "airflow cfm air_flow luftmenge luftvolumenstrom debit_air debit_d_air caudal_aire caudal_de_aire zuluftmenge zuluftvolumenstrom scfm portata_aria",
    ),
    (
        &[Dp],
        "diff_druck diff_pression dif_presion delta_druck pressure_rise pressure_difference differential_head diff_head dpit pdit pdi dpi dpic dpsensor druckdifferenz druckunterschied diferencia_de_presion diferencia_presion difference_de_pression dif_pres dp dpt diff_press differential_pressure delta_p delta_pressure diff_pressure difpr differenzdruck pression_differentielle presion_diferencial dpress diffp dif_press deltap pdiff pd diffpress delta_press dps pdt diff_pr \
        pressione_differenziale pressao_diferencial diffdruck press_diff pres_dif dif_pressure dprs delta_de_pression d_p dpres delta_presion difpress presdiff press_dif difp deltap_sensor pres_diff presion_dif pression_diff diffprs differentialpressure dd prsdif ecart_de_pression",
    ),
    (&[Pressure], "pressure press prs pres pr druck pression presion pressione pressao psi bar kpa psig"),
    (
        &[Head],
        "pump_lift lift_head head foerderhoehe hauteur_manometrique altura_manometrica hmt tdh altura prevalenza hauteur_manometrique_totale altura_de_impulsion pumpenfoerderhoehe hauteur altura_manometrica_total",
    ),
    (&[Temperature], "temp tmp temperature temperatur temperatura tem temps tmpr temper degc degf tem_p tempsensor"),
    (
        &[Position],
        "level_pos position pos posn stellung ouverture apertura posicion posizione abertura hub pct_open open opening percent_open opn hubstellung poscmd recopie_position stellungsrueckmeldung posicao oeffnung",
    ),
    (
        &[Current],
        "current amps amp ampere strom intensite intensidad corriente courant corrente amperage motorstrom stromaufnahme amperes",
    ),
    (&[Torque], "torque trq drehmoment couple par moment torq coppia par_motor tq"),
    (&[Voltage], "voltage volts volt spannung tension voltaje dc_bus dcbus zwischenkreis bus_volts tensione tensao"),
    (
        &[Hours],
        "hours runhrs hrs runtime run_hours run_time betriebsstunden heures horas ore_di_funzionamento stunden rthrs run_hrs bstd hours_run hrs_run heures_de_marche hr betriebsstd elapsed operating_hours bh runhours rhrs \
        heures_marche horas_funcionamiento horas_de_marcha laufzeit temps_de_marche tiempo_de_marcha horas_marcha tempo_funzionamento oph running_hours ore",
    ),
    (
        &[Starts],
        "arranq arr_count demarr starts num_starts start_count start_cnt anzahl_starts nombre_de_demarrages demarrages arranques numero_de_arranques n_arranques nb_demarrages avviamenti startcnt start_counter schaltspiele einschaltungen starts_count number_of_starts no_of_starts nbr_demarrages strt_cnt numstarts strts anlaeufe schalthaeufigkeit avvii partidas startzahl starts_total",
    ),
    (
        &[Alarm],
        "warning warn alert warnung avertissement aviso avviso overload ala alrm malfunct ueberlast surcharge sobrecarga bloqueo disturbance disyuntor thermique_pompe alarma alarmas stoe stg alarm alm fault flt trip fail failure stoerung stoermeldung sm stm defaut fallo averia allarme avaria falha falla alarme panne sammelstoerung stoer err error sammelstoermeldung tripped fehler guasto sst def disparo malfunction termico anomalie anomalia",
    ),
    (
        &[Mode],
        "hoa hand_auto hand_off_auto betriebsart mode manual_auto auto_manual local_remote loc_rem manu_auto auto_manu auto_hand automanual modo selector man_auto hauto handauto local_remoto auto_man ha_switch hoa_switch ba commutateur selettore switch_position bedienart wahlschalter local_distance \
        auto_local h_o_a auto_mode hand_mode in_auto in_hand auto_status hand_status hoasw modalita",
    ),
    (
        &[Humidity],
        "humidity rh hum humid feuchte raumfeuchte hygrometrie humedad umidita humidite umidade moisture zuluftfeuchte hr_rel rel_hum relative_humidity rel_feuchte",
    ),
    (&[AirQuality], "co2 co_2 co voc iaq ppm pm pm_2_5 air_quality qualite luftqualitaet particulate ozone tvoc"),
    (&[Level], "level lvl niveau fuellstand nivel livello"),
    (
        &[Load, Thermal],
        "puiss_froid puiss_chaud pth kaelteleist waermeleist btus load last charge carga carico tons tonnage heat_load cooling_load thermal_power btu_rate btuh kaelteleistung waermeleistung heizleistung kuehlleistung puissance_frigorifique puissance_calorifique puissance_thermique potencia_termica potencia_frigorifica \
        mbh ton thermische_leistung potenza_termica potenza_frigorifera potencia_calorifica heat_rate heat_output thermal_load thermal potencia_de_frio puissance_froid puissance_chaud heat_flow cooling_power heating_power energy_rate refrigeration btu_hr cooling_demand waermestrom carga_termica heat_power puissance_echangee kbtuh",
    ),
    (
        &[Enable],
        "call on_off_command_heating cooling_call heating_call heat_call enable ena enabled enbl freigabe fg frg autorisation habilitacion enab permissive en release freig autorisation_marche abilitazione consenso validation habilitado permiso enabl plant_start marche_autorisee consenso_marcia anlagenfreigabe habilitacao",
    ),
    (
        &[StartStop],
        "start_stop eb einb run_order start_order order_to_run start_cmnd run_com runcmd strtcmd ss s_s strtstp start_stp stst strt_stp startstop so_start marche_arret marcha_paro ein_aus_befehl on_off_command on_off_cmd arret_marche m_a strstp strtstop stsp run_command run_cmd marcha_parada ordre_de_marche orden_de_marcha comando_marcia run_request start_command start_cmd \
        schaltbefehl sb ein_befehl einschaltbefehl betriebsbefehl commande_marche start stop strt starten ordre_marche anforderung startbefehl orden_marcha run_command_ start_signal ein_schaltbefehl bef befehl run_enable comando_on_off comando_on run_req telecommande demande_de_marche marche_demandee on_command on_cmd",
    ),
    (
        &[Volume],
        "volume volumen totalizer vol volume_total totaliser totalisateur volumi totalizador totalized totflow accumulated cumul cumule acumulado volumenzaehler flow_total total_flow_volume tot_flow gal_tot volume_count",
    ),
    (
        &[Wet],
        "wet_bulb wb dew_point dewpoint dewpt enthalpy enth entalpia enthalpie feuchtkugel taupunkt point_de_rosee wetbulb dewp h_enth dpt_dew bulbo_humedo punto_de_rocio wbt dew",
    ),
    (
        &[DeltaT],
        "delta_t dt deltat delta_temp temp_diff spreizung ecart_temperature salto_termico td delta_temperature diff_temp temperaturdifferenz temperaturspreizung ecart_de_temperature salto delta_delta differenztemperatur",
    ),
    (&[Static], "static dsp stat_press static_press esp statisch statique estatica bsp dsap ductstatic"),
    (&[Refrigerant], "refrigerant refrig kaeltemittel refrigerante refr suct_temp frigorigene"),
    (
        &[Occupancy],
        "occupancy occ occupied unocc presence belegung ocupacion occupation motion presencia occupato anwesenheit",
    ),
    (
        &[Weather],
        "wind rain radiation irradiance solar_radiation global_solar sun barometric pyranometer helligkeit rayonnement lux precipitation globalstrahlung luz viento lluvia vent_vitesse illuminance strahlung windgeschwindigkeit",
    ),
    (
        &[Other],
        "seq comment comments remark bemerkung id date time user watchdog heartbeat checksum network_load cpu memory priority price tariff cost ph conductivity leitfaehigkeit conductivite conductividad vibration vib heatsink bearing winding lager lagertemperatur bearing_temp cop eer efficiency wirkungsgrad \
        rendement rendimiento pid gain kp ki integral proportional_band deadband totband differential hysteresis ramp timer delay countdown counter_reset door window tuer porte puerta turbidity salinity leak smoke rssi signal_strength lead lag lead_lag rotation_next power_factor cosphi cos_phi kva kvar cabinet enclosure schaltschrank winkel angle \
        heat_sink ripple firmware version schedule zeitplan horario calendar calendario timestamp comms communication offline online bms_link commfail puissance_reactive blindleistung efficacite performance igbt sequence index_number record concentration anzahl_stoerungen season saison sommer winter ete temporada estacion demand_limit ghg carbon co2e \
        resistance ohm count_down ndx tick fouling nox o2 pulse impulse reserve standby prefilter ionisation lamp uv_lamp duty_select vorrang ersatz request_count requests stage stages stufe lead_pump vfd_temp drive_temp trim respond dosage inhibitor wasserqualitaet haerte",
    ),
    // ---- qualifiers ----
    (
        &[Setpoint],
        "desired set_temp set_temperature setpunkt_ solltemp temp_set tsoll tsp cons csgne setpoint sp stpt setpt set_point set_pt soll sollwert sw consigne consigna csg cons setp target spt sollw stp set regolazione punto_di_taratura valor_de_consigna cgn setpunkt setp_oint referenz setpnt effsp esp_setpoint sollvorgabe ponto_de_ajuste ziel effective_setpoint",
    ),
    (
        &[Command],
        "command cmd commande comando orden ordre cmnd ref reference refrence demand vorgabe stellsignal stellgroesse senal senyal signal sig stellbefehl control_signal ctrl ao aout ansteuerung mando request req consigne_variateur segnale sgn ctl_signal regelsignal cde befehl_stell commanded sinal bestellung comm steuersignal",
    ),
    (&[Output], "output out outp ausgang sortie_ana salida uscita ausg opt lvo"),
    (
        &[Feedback],
        "fdbck fback posi_fb feedback fb fbk fdbk actual act ist istwert rueckmeldung rm retour_vitesse rueck recopie retroaccion realimentacion retroazione measured mesure mesuree medida messwert iw sensor fdb pv_actual retour_position real effective_speed aktuell fk ritorno_posizione reelle posfb fbck stellungsr feed_back",
    ),
    (
        &[Supply],
        "tsup tsupply tsu t_sup tdep tdepart timp impul impulsion_agua dep_ tvor supply sup spl sply splytemp vorlauf vl depart impulsion mandata ida leaving lvg lwt lvng flow_temp vorlauftemperatur sortie salida saida salida_agua swt aller lchwt chwlt alimentacion lv supp dep vorl impuls outlet uscita_acqua supw austritt sup_ply aust lea departs",
    ),
    (
        &[Supply, Temperature],
        "lwt swt chwlt lchwt vorlauftemperatur vorlauftemp flow_temp lvgtemp vlt tvl tv lhwt flowtemp hwlt tvorlauf lwtemp",
    ),
    (
        &[Return],
        "tret_ tr_ trtn treturn retor tretorno return rtn ret ruecklauf rl retour retorno ritorno rueckl entering ent ewt ruecklauftemperatur entree entrada ewtemp echwt rwt retn inlet ingresso eintritt entg rucklauf rtrn retur eintr entr rlauf",
    ),
    (
        &[Return, Temperature],
        "ewt rwt ruecklauftemperatur ruecklauftemp rlt_temp echwt trl ehwt tret rwtemp hwet chwet",
    ),
    (
        &[Total],
        "total tot sum gesamt summe totale totales totaux all alle todas toutes suma ensemble combined somme insgesamt complessiva conjunto aggregate general summen",
    ),
    (
        &[Limit],
        "reset limit lim min max minimum maximum high low lockout offset threshold grenzwert hi lo hilimit lolimit schwelle limite adjust adj verschiebung decalage desplazamiento korrektur bias shift minspeed mini maxi minima maxima seuil umbral hll lll deviation error_band reset_limit avg average mean mittelwert moyenne promedio minimal maximal upper lower \
        high_limit low_limit span",
    ),
    (
        &[Suction, Pressure],
        "suction_pressure suct_press suc_press saugdruck pression_aspiration presion_aspiracion psuc",
    ),
    (&[Suction], "suction suct suc saug saugseitig aspiration aspiracion aspirazione saugseite aspir succao"),
    (
        &[Discharge, Pressure],
        "discharge_pressure disch_press enddruck pression_refoulement presion_descarga presion_impulsion druckseitiger_druck pdis pressione_mandata",
    ),
    (
        &[Discharge],
        "discharge disch dis dschg descarga refoulement druckseite druckseitig mandata_pompa dschrg dsch refoul premente descargas",
    ),
    (
        &[Remote],
        "remote rem end_of_line endofline index_circuit index end_of_system far schlechtpunkt hydr field_sensor worst critical_sensor bout_de_reseau final_de_linea eol fin_de_linea fernpunkt letzter index_run bout_de_ligne antenne most_remote",
    ),
    (
        &[Cooling],
        "cooling clg kuehl kuehlung froid froide frio fria refroidissement refrigeracion raffreddamento cool kaelte kuehlen freddo kalt arrefecimento froids enfriamiento",
    ),
    (
        &[Heat],
        "heat htg heizen chaud chaude calor caldo quente heater preheat phc prehtg vorerhitz prechauffage precalentamiento hzg_reg caliente warm",
    ),
    (&[Reheat], "reheat rht rehtg nacherhitz recalentamiento rechauffage post_heating zone_heat"),
    (&[Electric], "electric elec electrical el elektrisch electrique electrica elettrica"),
    (&[Thermal], "thermal therm thermisch thermique termica th kwth frigorifique calorifique frigorifica btu"),
    (&[Count], "count cnt anzahl nombre numero zahl number nbr num nb"),
    (&[Hand], "hand manual man manu manuel manuell"),
    (&[Auto], "auto automatic automatik automatico automatique aut"),
    (&[On], "on aan"),
    (&[Off], "off aus apagado arret paro"),
    (&[Input], "input eingang in"),
    (
        &[Calculated],
        "calculated calc est estimated virtual geschaetzt estime estimado berechnet calcule calculado stimata computed estimate",
    ),
    (
        &[Noise],
        "field ctl controller cntrl point trend value val wert valeur valor the of de la le les du des del der die das und et y at to from for no nr nummer campus site floor level_floor flr etage og ug roof west east north south nord sud est_wing ost sued wing ala oeste este norte sur haus house block tower_block ahub equip \
        equipment analog binary digital bacnet log raw present presentvalue pv_value data rate a_b main_plant hvac ais gebaeude building batiment edificio planta_baja bms bas bacs glt gtc gtb scada modbus port device dev net obj object history hist eu unit_no e par_ticular geb dach lower_roof deg station at_the an am im mit con avec in_l tag hs \
        kaskade modulo module zona controls panel_no ddc as ld dir abs vav_box of_the sensor_value read reading air_side local_value inst instant momentan instantane instantaneo",
    ),
];
