BEGIN TRANSACTION;
CREATE TABLE chair_events (
	session INTEGER NOT NULL, 
	seq INTEGER NOT NULL, 
	kind VARCHAR(40) NOT NULL, 
	at_s DOUBLE NOT NULL, 
	source VARCHAR(40) NOT NULL, 
	item VARCHAR(80), 
	quantity INTEGER NOT NULL, 
	slot VARCHAR(40), 
	about VARCHAR(40), 
	seconds_s DOUBLE, 
	verdict VARCHAR(40), 
	predicted VARCHAR(1000) NOT NULL, 
	good BOOLEAN, 
	corrects INTEGER, 
	size VARCHAR(40), 
	"by" VARCHAR(80), 
	reason VARCHAR(200), 
	short INTEGER, 
	uncounted INTEGER, 
	beyond INTEGER, 
	PRIMARY KEY (session, seq), 
	FOREIGN KEY(session) REFERENCES chair_sessions (id)
);
INSERT INTO "chair_events" VALUES(1,1,'session_opened',1.79598181509219193465e+09,'keyboard',NULL,1,NULL,NULL,NULL,NULL,'',NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "chair_events" VALUES(1,2,'asked',1.7959818171836781502e+09,'keyboard','mouth_mirror',1,'1',NULL,NULL,'answer','mouth_mirror explorer_shepherd patient_bib',NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "chair_events" VALUES(1,3,'asked',1.79598181727810645106e+09,'keyboard','explorer_shepherd',1,'2',NULL,NULL,'answer','explorer_shepherd shade_guide mouth_mirror',NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "chair_events" VALUES(1,4,'asked',1.79598181733933520316e+09,'keyboard','cotton_roll',2,'cotton kit 2',NULL,NULL,'answer','shade_guide mouth_mirror explorer_shepherd',NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "chair_events" VALUES(1,5,'returned',1.79598181739282417293e+09,'keyboard','mouth_mirror',1,NULL,NULL,NULL,NULL,'',NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "chair_events" VALUES(1,6,'session_closed',1.7959818251457128525e+09,'keyboard',NULL,1,NULL,NULL,NULL,NULL,'',NULL,NULL,NULL,'Dr Green','the fire alarm',0,54,0);
INSERT INTO "chair_events" VALUES(2,1,'session_opened',1.79598183091625261307e+09,'keyboard',NULL,1,NULL,NULL,NULL,NULL,'',NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "chair_events" VALUES(2,2,'asked',1.79598183318498277665e+09,'keyboard','cotton_pliers',1,'4',NULL,NULL,'answer','mouth_mirror explorer_shepherd patient_bib',NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "chair_events" VALUES(3,1,'session_opened',1.79598195754517054559e+09,'keyboard',NULL,1,NULL,NULL,NULL,NULL,'',NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "chair_events" VALUES(3,2,'asked',1.79598195963936948776e+09,'keyboard','mouth_mirror',1,'1',NULL,NULL,'answer','mouth_mirror explorer_shepherd patient_bib',NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "chair_events" VALUES(3,3,'session_closed',1.79598196650354981424e+09,'keyboard',NULL,1,NULL,NULL,NULL,NULL,'',NULL,NULL,NULL,'Dr Green','moved to the next chair',0,9,0);
CREATE TABLE chair_log_version (
	version INTEGER NOT NULL, 
	PRIMARY KEY (version)
);
INSERT INTO "chair_log_version" VALUES(2);
CREATE TABLE chair_sessions (
	id INTEGER NOT NULL, 
	opened_s DOUBLE NOT NULL, 
	pack VARCHAR(80) NOT NULL, 
	tray VARCHAR(80), 
	procedure VARCHAR(80), 
	clinic VARCHAR(80), 
	dentist VARCHAR(80), 
	PRIMARY KEY (id)
);
INSERT INTO "chair_sessions" VALUES(1,1.79598181509219193465e+09,'operative','composite_class_two','composite_class_two',NULL,NULL);
INSERT INTO "chair_sessions" VALUES(2,1.79598183091625261307e+09,'operative','examination',NULL,NULL,NULL);
INSERT INTO "chair_sessions" VALUES(3,1.79598195754517054559e+09,'operative','examination',NULL,NULL,'green');
COMMIT;
