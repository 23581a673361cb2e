//! The vocabulary's second half: quantities and qualifiers. How it is written stands in `words`.

use super::concepts::Concept::{self, *};

pub static QUANTITIES: &[(&[Concept], &str)] = &[
    // ---- quantities ----
    (
        &[Speed],
        "spe nrot toerental varvtal hastighed hastighet obroty predkosc shaft_speed veloc veloci vitess drehzahlen speed spd drehzahl vitesse velocidad velocita velocidade rpm dz drz spdfbk geschwindigkeit vit vel umdrehungen tr_min spe_ed regime_moteur vitesse_rotation revs drehz rotation giri",
    ),
    (
        &[Speed, Command],
        "speed_control spd_ctl speed_ctrl spd_ctrl drehzahlvorgabe drehzahlsollwert drehzahl_stellsignal",
    ),
    (&[Speed, Feedback], "drehzahlrueckmeldung drehzahlistwert spdfb spdfbk"),
    (&[Heating, Thermal], "waerme fernwaerme district_heating waermenetz"),
    (&[Chilled, Thermal], "fernkaelte district_cooling"),
    (&[Heating, Pump], "vt_pump cv_pomp"),
    (&[Start], "started"),
    (&[Loop, Enable], "sysen sysena system_enable"),
    (&[SupplyAir, Fan, Status], "sfs"),
    (&[Fan, Status], "airflow_switch air_flow_switch"),
    (&[Flow, Total], "totflow tot_flow"),
    (&[Current, Motor], "mtr_cur mtr_amps mtr_amp mtr_curr"),
    (&[Room, Setpoint, Temperature], "rmsp znsp zsp ztsp rmtsp zntsp raumsollwert raumsoll"),
    (&[SupplyAir, Setpoint, Temperature], "datsp satsp dasp sasp"),
    (&[SupplyAir, Temperature], "off_coil after_coil coil_leaving_air off_coil_temp offcoil tzul tzu"),
    (&[Heating, Pump], "hkp heizungspumpe heizkreispumpe"),
    (&[Chilled, Pump], "kaltwasserpumpe"),
    (&[Speed, Frequency], "hz freq frequency frequenz frequence frecuencia frequenza frequencia herz hertz"),
    (
        &[Power],
        "power_consumption power_demand consumo_potencia consumo_de_potencia pow pow_el elec_demand electrical_demand electric_demand puis puis_ pumpenleistung leistg power pwr kw kilowatt watt watts leistung puissance potencia potenza wirkleistung pel active_power elec_power electric_power hp_power demand_kw wirkl puiss potenza_assorbita pot leist",
    ),
    (
        &[Power, Electric],
        "power_consumption pow_el pel wirkleistung active_power puissance_active potencia_activa elektrische_leistung puissance_electrique potencia_electrica electric_power elec_active_power puissance_absorbee leistungsaufnahme potenza_assorbita aufnahmeleistung potenza_attiva",
    ),
    (
        &[Energy],
        "consumida consumido consumata kilowatt_hours kilowatt_hour kwh mwh energy energie energia energiezaehler arbeit wh kwhr consumption consommation consumo verbrauch stromverbrauch wirkarbeit elec_energy energie_active consommee",
    ),
    (
        &[Status],
        "proven curr_sw current_sw cur_sw curr_switch csw amp_switch bedrijf rueckm rueckmldg energised energized marcha_confirmada in_service in_funzione drift_ sta running_feedback proof_of_flow current_switch flow_proof cs run_proof prv proving aux_contact laufrueckmeldung in_operation active status sts stat run running running_status state proof on_off_status betrieb betriebsmeldung bm etat marche estado run_status laeuft ein laufmeldung stato funzionamento lauf rmld betr betriebsm \
        confirmation_marche confirmacion_marcha marcha retour_de_marche retour_marche retour_d_etat funcionamento stat_us onoff run_sts runsts run_fbk confirmacion en_marche en_service enmarcha fonctionnement operating operation ist_ein rueckmeldung_betrieb running_signal en_marcha marcia in_betrieb run_state runfbk rstat",
    ),
    (
        &[Flow],
        "vol_strom fit ft_ fr flowr flowmtr durchsatz foerderstrom foerdermenge flow flo flw volumenstrom debit caudal portata vazao durchfluss gpm lps m_3_h cmh durchflussmenge flowrate flow_rate volume_flow vs volstrom gasto waterflow lpm usgpm debits durchfl",
    ),
    (
        &[AirFlow],
        "airflow cfm air_flow luftmenge luftvolumenstrom debit_air debit_d_air caudal_aire caudal_de_aire zuluftmenge zuluftvolumenstrom scfm portata_aria",
    ),
    (
        &[Dp],
        "diff_p difprs dp_rem pdp p_dif dif_p difp differ_press presion_dif pdif wdp dif_pr dprs_ diff_prs diff_prss diff_pres water_dp delta_pr drukverschil dif_druck diff_druck diff_pression dif_presion delta_druck pressure_rise pressure_difference differential_head diff_head dpit pdit pdi dpi dpic dpsensor druckdifferenz druckunterschied diferencia_de_presion diferencia_presion difference_de_pression dif_pres foerderdruck pumpendruck dp dpt diff_press differential_pressure delta_p delta_pressure diff_pressure difpr differenzdruck pression_differentielle presion_diferencial dpress diffp dif_press deltap pdiff pd diffpress delta_press dps pdt diff_pr \
        pressione_differenziale pressao_diferencial diffdruck press_diff pres_dif dif_pressure dprs delta_de_pression d_p dpres delta_presion difpress presdiff press_dif difp deltap_sensor pres_diff presion_dif pression_diff diffprs differentialpressure dd prsdif ecart_de_pression",
    ),
    (&[Suction, Pressure], "p_in pin_"),
    (&[Discharge, Pressure], "p_out pout_"),
    (
        &[Meter, Thermal],
        "heat_quantity_meter heat_quantity cold_quantity_meter heat_flow_meter heat_meter wmz kmz btu_meter waermezaehler waermemengenzaehler kaeltezaehler kaeltemengenzaehler cooling_meter energy_meter_heat wm_zaehler compteur_froid compteur_chaud contador_frio contador_calor",
    ),
    (&[Flow, Meter], "flow_meter flowmeter durchflussmesser debitmetre caudalimetro flow_mtr"),
    (
        &[Energy, Meter],
        "zaehlerstand energy_meter compteur_energie contador_energia electricity_meter electric_meter kwh_meter elec_meter stromzaehler_pumpe energiezaehler",
    ),
    (&[Flow], "v_dot vdot m_dot"),
    (&[Load, Thermal], "q_dot qdot"),
    (&[Power, Electric], "p_el p_elec"),
    (&[Pressure], "druk tryck pressure press prs pres pr druck pression presion pressione pressao psi bar kpa psig"),
    (
        &[Head],
        "delh foerderh pump_lift lift_head head foerderhoehe hauteur_manometrique altura_manometrica hmt tdh altura prevalenza hauteur_manometrique_totale altura_de_impulsion pumpenfoerderhoehe hauteur altura_manometrica_total",
    ),
    (
        &[Temperature],
        "temperatuur temp tmp temperature temperatur temperatura tem temps tmpr temper degc degf tem_p tempsensor",
    ),
    (
        &[Position],
        "stell stellg oeffnungsgrad level_pos position pos posn stellung ouverture apertura posicion posizione abertura hub pct_open open opening percent_open opn hubstellung poscmd recopie_position stellungsrueckmeldung posicao oeffnung",
    ),
    (
        &[Current],
        "cur curr current amps amp ampere strom intensite intensidad corriente courant corrente amperage motorstrom stromaufnahme amperes",
    ),
    (&[Torque], "torque trq drehmoment couple par moment torq coppia par_motor tq"),
    (
        &[Voltage],
        "dc_link dclink dc_voltage link_voltage voltage volts volt spannung tension voltaje dc_bus dcbus zwischenkreis bus_volts tensione tensao",
    ),
    (
        &[Hours],
        "hours runhrs hrs runtime run_hours run_time betriebsstunden heures horas ore_di_funzionamento stunden rthrs run_hrs bstd hours_run hrs_run heures_de_marche hr betriebsstd elapsed operating_hours bh runhours rhrs \
        heures_marche horas_funcionamiento horas_de_marcha laufzeit temps_de_marche tiempo_de_marcha horas_marcha tempo_funzionamento oph running_hours ore",
    ),
    (
        &[Starts],
        "stcnt strtcnt nstarts startcounter start_ctr einschalt_zaehler startzaehler anzahl_schaltungen contador_arranques arranque_contador nb_demarr compteur_demarrages run_count nb_dem nbr_dem cycles cycle_count cycle_counter arranq arr_count demarr starts num_starts start_count start_cnt anzahl_starts nombre_de_demarrages demarrages arranques numero_de_arranques n_arranques nb_demarrages avviamenti startcnt start_counter schaltspiele einschaltungen starts_count number_of_starts no_of_starts nbr_demarrages strt_cnt numstarts strts anlaeufe schalthaeufigkeit avvii partidas startzahl starts_total",
    ),
    (
        &[Alarm],
        "trp malf motorschutz motorschutzschalter disjonction disparo_termico sst_ stoer_ flt_s synthese_defaut ol olt defecto storing storingsmelding failed_to_start fail_to_start failed_to_run failure_to_start no_start stoerm stoermld storing larm fejl awaria fault_active overcurrent warning warn alert warnung avertissement aviso avviso overload ala alrm malfunct ueberlast surcharge sobrecarga bloqueo disturbance disyuntor thermique_pompe alarma alarmas stoe stg alarm alm fault flt trip fail failure stoerung stoermeldung sm stm defaut fallo averia allarme avaria falha falla alarme panne sammelstoerung stoer err error sammelstoermeldung tripped fehler guasto sst def disparo malfunction termico anomalie anomalia",
    ),
    (
        &[Mode],
        "betriebsartenschalter handschalter schalterstellung selector_switch control_mode mode_de_marche hand_0_auto manu_0_auto reparaturschalter locrem sel_sw selector_sw sel_switch a_m hand_automatik handbetrieb_ hoa hand_auto hand_off_auto betriebsart mode manual_auto auto_manual local_remote loc_rem manu_auto auto_manu auto_hand automanual modo selector man_auto hauto handauto local_remoto auto_man ha_switch hoa_switch ba commutateur selettore switch_position bedienart wahlschalter local_distance \
        auto_local h_o_a auto_mode hand_mode in_auto in_hand auto_status hand_status hoasw modalita",
    ),
    (
        &[Humidity],
        "humidifier humidif humidification dehumidifier dehumidification humidificateur humidificador befeuchter entfeuchter humidity rh hum humid feuchte raumfeuchte hygrometrie humedad umidita humidite umidade moisture zuluftfeuchte hr_rel rel_hum relative_humidity rel_feuchte",
    ),
    (&[AirQuality], "co2 co_2 co voc iaq ppm pm pm_2_5 air_quality qualite luftqualitaet particulate ozone tvoc"),
    (&[Level], "level lvl niveau fuellstand nivel livello"),
    (
        &[Load, Thermal],
        "heat_rejected heat_rejection pow_c pow_h pow_hc kwr kwt kwc kwth kw_th kw_r puiss_froid puiss_chaud pth kaelteleist waermeleist btus load last charge carga carico tons tonnage heat_load cooling_load thermal_power btu_rate btuh kaelteleistung waermeleistung heizleistung kuehlleistung puissance_frigorifique puissance_calorifique puissance_thermique potencia_termica potencia_frigorifica \
        mbh ton thermische_leistung potenza_termica potenza_frigorifera potencia_calorifica heat_rate heat_output thermal_load thermal potencia_de_frio puissance_froid puissance_chaud heat_flow cooling_power heating_power energy_rate refrigeration btu_hr cooling_demand waermestrom carga_termica heat_power puissance_echangee kbtuh",
    ),
    (
        &[Enable],
        "rele enable_command autorisation_de_marche enb enbld run_permit run_permissive permiso_marcha call on_off_command_heating cooling_call heating_call heat_call liberation anlagen_freigabe enable ena enabled enbl freigabe fg frg autorisation habilitacion enab permissive en release freig autorisation_marche abilitazione consenso validation habilitado permiso enabl plant_start marche_autorisee consenso_marcia anlagenfreigabe habilitacao",
    ),
    (
        &[StartStop],
        "start_stop eb einb run_order start_order order_to_run start_cmnd run_com runcmd strtcmd ss s_s strtstp start_stp stst strt_stp startstop so_start marche_arret marcha_paro ein_aus_befehl on_off_command on_off_cmd arret_marche m_a strstp strtstop stsp run_command run_cmd marcha_parada ordre_de_marche orden_de_marcha comando_marcia run_request start_command start_cmd \
        schaltbefehl sb ein_befehl einschaltbefehl betriebsbefehl commande_marche start stop strt starten ordre_marche anforderung startbefehl orden_marcha run_command_ start_signal ein_schaltbefehl bef befehl run_enable comando_on_off comando_on run_req telecommande demande_de_marche marche_demandee on_command on_cmd",
    ),
    (
        &[Volume],
        "volume volumen totalizer vol volume_total totaliser totalisateur volumi totalizador totalized accumulated cumul cumule acumulado volumenzaehler flow_total total_flow_volume gal_tot volume_count",
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
        "unoccupied unoccupancy vacant inoccupation occupancy occ occupied unocc presence belegung ocupacion occupation motion presencia occupato anwesenheit",
    ),
    (
        &[Weather],
        "wind rain radiation irradiance solar_radiation global_solar sun barometric pyranometer helligkeit rayonnement lux precipitation globalstrahlung luz viento lluvia vent_vitesse illuminance strahlung windgeschwindigkeit",
    ),
    (
        &[Other],
        "fault_code fltcode faultcode alarm_code error_code status_word warning_word control_word last_fault codigo_fallo code_defaut fehlercode lead_status lag_status duty_status lead_sts lead_select lead_pump_select standby_status lead_lag_status comm_fail comm_failure comms_fail comms_fault communication_fail communication_failure comm_alarm comm_status comm_loss comm_fault breaker contactor disconnect specific seq comment comments remark bemerkung id date time user watchdog heartbeat checksum network_load cpu memory priority price tariff cost ph conductivity leitfaehigkeit conductivite conductividad vibration vib heatsink bearing winding lager lagertemperatur bearing_temp cop eer efficiency wirkungsgrad \
        rendement rendimiento pid gain kp ki integral proportional_band deadband totband differential hysteresis ramp timer delay countdown counter_reset door window tuer porte puerta turbidity salinity leak smoke rssi signal_strength   lead_lag rotation_next power_factor cosphi cos_phi kva kvar cabinet enclosure schaltschrank winkel angle \
        heat_sink ripple firmware version schedule zeitplan horario calendar calendario timestamp comms communication offline online bms_link commfail puissance_reactive blindleistung efficacite performance igbt sequence index_number record concentration anzahl_stoerungen season saison sommer winter ete temporada estacion demand_limit ghg carbon co2e \
        resistance ohm count_down ndx tick fouling nox o2 pulse impulse reserve  prefilter ionisation lamp uv_lamp duty_select vorrang ersatz request_count requests stage stages stufe  vfd_temp drive_temp trim respond dosage inhibitor wasserqualitaet haerte",
    ),
    // ---- qualifiers ----
    (
        &[Setpoint],
        "stpts soll_wert wanted gewenst required desired set_temp set_temperature setpunkt_ solltemp temp_set tsoll tsp cons csgne setpoint sp stpt setpt set_point set_pt soll sollwert sw consigne consigna csg cons setp target spt sollw stp set regolazione punto_di_taratura valor_de_consigna cgn setpunkt setp_oint referenz setpnt effsp esp_setpoint sollvorgabe ponto_de_ajuste ziel effective_setpoint",
    ),
    (
        &[Command],
        "comd cmmd comnd asked requested referencia dmd demd referenz_ stuursignaal boervaerde stellwert ansteuersignal stellung_soll command cmd commande comando orden ordre cmnd ref reference refrence demand vorgabe stellsignal stellgroesse senal senyal signal sig stellbefehl control_signal ctrl ao aout ansteuerung mando request req consigne_variateur segnale sgn ctl_signal regelsignal cde befehl_stell commanded sinal bestellung comm steuersignal",
    ),
    (&[Output], "output out outp ausgang sortie_ana salida uscita ausg opt lvo"),
    (
        &[Feedback],
        "mea fdbck fback posi_fb feedback fb fbk fdbk actual act ist istwert rueckmeldung rm retour_vitesse rueck recopie retroaccion realimentacion retroazione measured mesure mesuree medida messwert iw sensor fdb pv_actual retour_position real effective_speed aktuell fk ritorno_posizione reelle posfb fbck stellungsr feed_back",
    ),
    (
        &[Supply],
        "from_tower from_towers from_ct alimentacao going_out going_to leaving_chillers to_ahus to_fcus to_coils to_units to_terminal_units to_airhandlers to_air_handlers to_consumer to_building to_bldg to_the_building to_load to_loads to_field to_site to_system to_consumers to_the_field from_plant from_the_plant out_of_plant out_of_the_plant from_chillers from_boilers leaving_plant leaving_the_plant vers_batiment \
        vers_reseau zum_gebaeude hacia_edificio aanvoer framledning tilloeb fremloeb tillop zasilanie andata invio tsup tsupply tsu t_sup tdep tdepart timp impul impulsion_agua dep_ tvor supply sup spl sply splytemp vorlauf vl depart impulsion mandata ida leaving lvg lwt lvng flow_temp vorlauftemperatur sortie salida saida salida_agua swt aller lchwt chwlt alimentacion lv supp dep vorl impuls outlet uscita_acqua supw austritt sup_ply aust lea departs",
    ),
    (
        &[Supply, Temperature],
        "lwt swt chwlt lchwt vorlauftemperatur vorlauftemp flow_temp lvgtemp vlt tvl tv lhwt flowtemp hwlt tvorlauf lwtemp",
    ),
    (
        &[Return],
        "to_tower to_towers to_ct coming_back coming_from entering_chillers from_ahus from_fcus from_coils from_units from_terminal_units from_air_handlers from_building from_bldg from_the_building from_load from_loads from_field from_site from_consumers from_the_field from_system to_plant to_the_plant back_to_plant back_to_the_plant to_chillers to_boilers into_plant entering_plant \
        du_batiment vuelta vom_gebaeude desde_edificio returledning retourtemperatuur returloeb returlop powrot tret_ tr_ trtn treturn retor tretorno return rtn ret ruecklauf rl retour retorno ritorno rueckl entering ent ewt ruecklauftemperatur entree entrada ewtemp echwt rwt retn inlet ingresso eintritt entg rucklauf rtrn retur eintr entr rlauf",
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
        "mindestdrehzahl minimaldrehzahl maximaldrehzahl hoechstdrehzahl mindest reset limit lim min max minimum maximum high low lockout offset threshold grenzwert hi lo hilimit lolimit schwelle limite adjust adj verschiebung decalage desplazamiento korrektur bias shift minspeed mini maxi minima maxima seuil umbral hll lll deviation error_band reset_limit minimal maximal upper lower \
        high_limit low_limit span",
    ),
    (
        &[Suction, Pressure],
        "eingangsdruck zulaufdruck druck_vor inlet_pressure vordruck suction_pressure suct_press suc_press saugdruck pression_aspiration presion_aspiracion psuc",
    ),
    (&[Suction], "asp aspi suction suct suc saug saugseitig aspiration aspiracion aspirazione saugseite aspir succao"),
    (
        &[Discharge, Pressure],
        "ausgangsdruck druck_nach outlet_pressure discharge_pressure disch_press enddruck pression_refoulement presion_descarga presion_impulsion druckseitiger_druck pdis pressione_mandata",
    ),
    (
        &[Discharge],
        "discharge disch dis dschg descarga refoulement druckseite druckseitig mandata_pompa dschrg dsch refoul premente descargas",
    ),
    (
        &[Remote],
        "punto_mas_desfavorable mas_desfavorable desfavorable plus_defavorise defavorise ungunst unguenstigster farthest furthest most_distant last_coil critical_point critical_zone hydraulically_remote remote rem end_of_line endofline index_circuit index end_of_system far schlechtpunkt hydr field_sensor worst critical_sensor bout_de_reseau final_de_linea eol fin_de_linea fernpunkt letzter index_run bout_de_ligne antenne most_remote",
    ),
    (
        &[Cooling],
        "coo cooling clg kuehl kuehlung froid froide frio fria refroidissement refrigeracion raffreddamento cool kaelte kuehlen freddo kalt arrefecimento froids enfriamiento",
    ),
    (
        &[Heat],
        "hea heat htg heizen chaud chaude calor caldo quente heater preheat phc prehtg vorerhitz prechauffage precalentamiento hzg_reg caliente warm",
    ),
    (&[Reheat], "reheat rht rehtg nacherhitz recalentamiento rechauffage post_heating zone_heat"),
    (&[Electric], "electric elec electrical el elektrisch electrique electrica elettrica"),
    (
        &[Thermal],
        "frigo frigorif calorif thermal therm thermisch thermique termica th kwth frigorifique calorifique frigorifica btu",
    ),
    (&[Count], "count cnt anzahl nombre numero zahl number nbr num nb"),
    (&[Hand], "hand manual man manu manuel manuell"),
    (&[Auto], "auto automatic automatik automatico automatique aut"),
    (&[On], "on aan"),
    (&[Off], "off aus apagado arret paro"),
    (&[Input], "input eingang in"),
    (
        &[Calculated],
        "avg average mean mittelwert mittel moyenne promedio media calculated calc est estimated virtual geschaetzt estime estimado berechnet calcule calculado stimata computed estimate",
    ),
    (
        &[Noise],
        "duty standby stby assist lead lag times used since has have is are being using through between after before without through by its ahead during low_zone high_zone mid_zone low_rise high_rise mid_rise air_cooled water_cooled global field ctl controller cntrl point trend value val wert valeur valor the of de la le les du des del der die das und et y at to from for no nr nummer campus site floor level_floor flr etage og ug roof west east north south nord sud est_wing ost sued wing ala oeste este norte sur haus house block tower_block ahub equip \
        equipment analog binary digital bacnet log raw present presentvalue pv_value data rate a_b main_plant hvac ais gebaeude building batiment edificio planta_baja bms bas bacs glt gtc gtb scada modbus port device dev net obj object history hist eu unit_no e par_ticular geb dach lower_roof deg station at_the an am im mit con avec in_l tag hs \
        kaskade modulo module zona controls panel_no ddc as ld dir abs vav_box of_the sensor_value read reading air_side local_value inst instant momentan instantane instantaneo",
    ),
];
