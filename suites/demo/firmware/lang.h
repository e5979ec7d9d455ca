/* Every word the device shows, in its four languages. */
#ifndef FERN_LANG_H
#define FERN_LANG_H

enum { LANG_EN, LANG_DE, LANG_FR, LANG_ES, LANG_COUNT };

#define LANG_TEXTS(T) \
	T(STARTING, "Starting", "Startet", "Démarrage", "Iniciando") \
	T(TEMPERATURE, "Temperature", "Temperatur", "Température", "Temperatura") \
	T(HUMIDITY, "Humidity", "Luftfeuchte", "Humidité", "Humedad") \
	T(NEXT_MISTING, "Next misting", "Nächster Nebel", "Prochaine brume", "Próxima niebla") \
	T(NOT_PLANNED, "not planned", "nicht geplant", "non prévue", "sin programar") \
	T(IN_TIME, "in", "in", "dans", "en") \
	T(SCHEDULE, "Schedule", "Zeitplan", "Horaires", "Horario") \
	T(SENSORS, "Sensors", "Sensoren", "Capteurs", "Sensores") \
	T(DAY_CHART, "Day chart", "Tagesverlauf", "Courbe du jour", "Gráfico del día") \
	T(CHART, "Chart", "Verlauf", "Courbe", "Gráfico") \
	T(SETTINGS, "Settings", "Optionen", "Réglages", "Ajustes") \
	T(LANGUAGE, "Language", "Sprache", "Langue", "Idioma") \
	T(LANGUAGE_NAME, "English", "Deutsch", "Français", "Español") \
	T(SEASON_ROW, "Season reminder", "Jahreszeiten-Erinnerung", "Rappel de saison", "Aviso de estación") \
	T(ALARM_TEST, "Alarm test", "Alarmtest", "Essai d’alarme", "Prueba de alarma") \
	T(ABOUT, "About", "Über das Gerät", "À propos", "Acerca de") \
	T(MANUAL_RUN, "Manual run", "Handbetrieb", "Marche manuelle", "Modo manual") \
	T(FAN, "Fan", "Lüfter", "Ventilateur", "Ventilador") \
	T(VALVE, "Mist valve", "Nebelventil", "Brumisateur", "Nebulizador") \
	T(BED_LAMP, "Bed lamp", "Beetlampe", "Lampe de semis", "Luz de semillero") \
	T(ON, "On", "Ein", "Marche", "Encendido") \
	T(OFF, "Off", "Aus", "Arrêt", "Apagado") \
	T(SPRING, "Spring is here", "Der Frühling ist da", "Voici le printemps", "Ya es primavera") \
	T(SUMMER, "Summer is here", "Der Sommer ist da", "Voici l’été", "Ya es verano") \
	T(AUTUMN, "Autumn is here", "Der Herbst ist da", "Voici l’automne", "Ya es otoño") \
	T(WINTER, "Winter is here", "Der Winter ist da", "Voici l’hiver", "Ya es invierno") \
	T(SPRING_DO, "Seedlings want short, frequent mist. Switch to the spring schedule?", \
		"Sämlinge mögen kurzen, häufigen Nebel. Auf den Frühlingsplan umstellen?", \
		"Les semis aiment une brume brève et fréquente. Passer à l’horaire de printemps ?", \
		"Los semilleros piden niebla corta y frecuente. ¿Pasar al horario de primavera?") \
	T(SUMMER_DO, "Noon sun dries the beds quickly. Switch to the summer schedule?", \
		"Die Mittagssonne trocknet die Beete rasch aus. Auf den Sommerplan umstellen?", \
		"Le soleil de midi dessèche vite les bacs. Passer à l’horaire d’été ?", \
		"El sol de mediodía seca pronto los bancales. ¿Pasar al horario de verano?") \
	T(AUTUMN_DO, "Cool nights keep leaves wet for long. Switch to the autumn schedule?", \
		"In kühlen Nächten bleibt das Laub lange nass. Auf den Herbstplan umstellen?", \
		"Les nuits fraîches gardent les feuilles mouillées. Passer à l’horaire d’automne ?", \
		"Las noches frescas mantienen las hojas mojadas. ¿Pasar al horario de otoño?") \
	T(WINTER_DO, "Plants at rest need little water. Switch to the winter schedule?", \
		"Ruhende Pflanzen brauchen wenig Wasser. Auf den Winterplan umstellen?", \
		"Les plantes au repos boivent peu. Passer à l’horaire d’hiver ?", \
		"Las plantas en reposo piden poca agua. ¿Pasar al horario de invierno?") \
	T(LATER, "Later", "Später", "Plus tard", "Más tarde") \
	T(SWITCH, "Switch", "Umstellen", "Changer", "Cambiar") \
	T(ADD_SENSOR, "Add a sensor", "Sensor hinzufügen", "Ajouter un capteur", "Añadir un sensor") \
	T(NO_SENSORS, "No sensor is paired yet.", "Noch ist kein Sensor gekoppelt.", "Aucun capteur n’est associé.", \
		"Aún no hay sensores.") \
	T(PAIR, "Pair a sensor", "Sensor koppeln", "Associer un capteur", "Emparejar un sensor") \
	T(PAIR_HINT, "Type the code printed under the sensor.", "Tippen Sie den Code auf der Unterseite des Sensors.", \
		"Tapez le code inscrit sous le capteur.", "Escriba el código de la base del sensor.") \
	T(CODE_SHORT, "The code has 4 to 6 digits.", "Der Code hat 4 bis 6 Ziffern.", "Le code a de 4 à 6 chiffres.", \
		"El código tiene de 4 a 6 cifras.") \
	T(CODE_WRONG, "Wrong code. Please check the label.", "Falscher Code. Bitte Etikett prüfen.", \
		"Code erroné. Vérifiez l’étiquette.", "Código erróneo. Revise la etiqueta.") \
	T(OK, "OK", "OK", "OK", "OK") \
	T(SEARCHING, "Code accepted. Looking for the sensor …", "Code stimmt. Sensor wird gesucht …", \
		"Code accepté. Recherche du capteur …", "Código correcto. Buscando el sensor …") \
	T(SEARCH_HINT, "Hold it close to the controller.", "Halten Sie ihn nah an das Gerät.", \
		"Tenez-le près de l’appareil.", "Acérquelo al aparato.") \
	T(CANCEL, "Cancel", "Abbrechen", "Annuler", "Cancelar") \
	T(NAME_IT, "Name the sensor", "Sensor benennen", "Nommer le capteur", "Nombre del sensor") \
	T(FOUND, "Sensor found", "Sensor gefunden", "Capteur trouvé", "Sensor encontrado") \
	T(SAVE, "Save", "Speichern", "Garder", "Guardar") \
	T(PLACE_BENCH, "Bench", "Tisch", "Table", "Mesa") \
	T(PLACE_DOOR, "Door", "Tür", "Porte", "Puerta") \
	T(PLACE_NORTH, "North", "Nord", "Nord", "Norte") \
	T(PLACE_SOUTH, "South", "Süd", "Sud", "Sur") \
	T(ZONE_SEEDLINGS, "Seedlings", "Sämlinge", "Semis", "Semilleros") \
	T(ZONE_CUTTINGS, "Cuttings", "Stecklinge", "Boutures", "Esquejes") \
	T(ZONE_FERNS, "Fern bench", "Farntisch", "Table des fougères", "Mesa de helechos") \
	T(ZONE_ORCHIDS, "Orchids", "Orchideen", "Orchidées", "Orquídeas") \
	T(ZONE_HERBS, "Herb trays", "Kräuterschalen", "Bacs d’herbes", "Bandejas de hierbas") \
	T(ZONE_MOSS, "Moss wall", "Mooswand", "Mur de mousse", "Muro de musgo") \
	T(DAILY, "daily", "täglich", "tous les jours", "a diario") \
	T(WORKDAYS, "Mon–Fri", "Mo–Fr", "lun–ven", "lun–vie") \
	T(WEEKEND, "Sat, Sun", "Sa, So", "sam, dim", "sáb, dom") \
	T(ALTERNATE, "Mon, Wed, Fri", "Mo, Mi, Fr", "lun, mer, ven", "lun, mié, vie") \
	T(AUTO, "Auto", "Autom.", "Auto", "Auto") \
	T(ALARM, "Alarm", "Alarm", "Alarme", "Alarma") \
	T(HEAT, "Too hot", "Zu heiß", "Trop chaud", "Demasiado calor") \
	T(FROST, "Frost danger", "Frostgefahr", "Risque de gel", "Riesgo de helada") \
	T(DRY, "Air too dry", "Luft zu trocken", "Air trop sec", "Aire muy seco") \
	T(TANK, "Tank is low", "Tank fast leer", "Réservoir bas", "Depósito bajo") \
	T(STUCK, "Mist valve stuck", "Nebelventil klemmt", "Vanne bloquée", "Válvula atascada") \
	T(HEAT_DO, "Open the vents and shade the beds.", "Lüftung öffnen und Beete beschatten.", \
		"Ouvrez les aérations et ombrez les bacs.", "Abra la ventilación y dé sombra.") \
	T(FROST_DO, "Close the vents and start the heating.", "Lüftung schließen und Heizung einschalten.", \
		"Fermez les aérations et chauffez.", "Cierre la ventilación y encienda la calefacción.") \
	T(DRY_DO, "Misting starts as soon as you confirm.", "Nach dem Quittieren beginnt der Nebel.", \
		"La brume démarre après confirmation.", "La niebla empieza al confirmar.") \
	T(TANK_DO, "Refill the tank. Misting is paused.", "Tank nachfüllen. Der Nebel pausiert.", \
		"Remplissez le réservoir. Brume en pause.", "Llene el depósito. La niebla está en pausa.") \
	T(STUCK_DO, "Shut the water tap and check the valve.", "Wasserhahn schließen und Ventil prüfen.", \
		"Fermez l’eau et contrôlez la vanne.", "Cierre el agua y revise la válvula.") \
	T(ACKNOWLEDGE, "Acknowledge", "Quittieren", "Confirmer", "Confirmar") \
	T(FIRMWARE, "Firmware", "Firmware", "Micrologiciel", "Firmware") \
	T(HARDWARE, "Hardware", "Hardware", "Matériel", "Hardware") \
	T(SERIAL, "Serial number", "Seriennummer", "N° de série", "N.º de serie") \
	T(RADIO, "Radio", "Funk", "Radio", "Radio") \
	T(BATTERY, "Battery", "Batterie", "Batterie", "Batería")

#define LANG_ID(id, en, de, fr, es) STR_##id,
enum { LANG_TEXTS(LANG_ID) STR_COUNT };
#undef LANG_ID

/* The text in the device's language. */
const char *tr(int id);
const char *tr_in(int language, int id);

#endif
