BEGIN TRANSACTION;
CREATE TABLE consent_switched (
	id INTEGER NOT NULL, 
	dentist VARCHAR(80) NOT NULL, 
	given BOOLEAN NOT NULL, 
	at_s DOUBLE NOT NULL, 
	PRIMARY KEY (id)
);
INSERT INTO "consent_switched" VALUES(1,'',1,1.79598180946917605404e+09);
INSERT INTO "consent_switched" VALUES(2,'',0,1.79598183832680201527e+09);
INSERT INTO "consent_switched" VALUES(3,'d_0fe86c74a3',1,1.79598194977937841414e+09);
CREATE TABLE list_of_consents_version (
	version INTEGER NOT NULL, 
	PRIMARY KEY (version)
);
INSERT INTO "list_of_consents_version" VALUES(1);
CREATE TABLE session_left_out (
	session INTEGER NOT NULL, 
	PRIMARY KEY (session)
);
COMMIT;
