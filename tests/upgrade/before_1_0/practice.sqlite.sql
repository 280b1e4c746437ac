BEGIN TRANSACTION;
CREATE TABLE answer (
	id INTEGER NOT NULL, 
	trainee_id INTEGER NOT NULL, 
	token VARCHAR(64) NOT NULL, 
	at DATETIME NOT NULL, 
	topic VARCHAR(200) NOT NULL, 
	"right" BOOLEAN NOT NULL, 
	choice VARCHAR(200), 
	asked_name VARCHAR(200), 
	said VARCHAR(400) NOT NULL, 
	response_s FLOAT, 
	unsure BOOLEAN NOT NULL, 
	rating INTEGER NOT NULL, 
	"by" VARCHAR(10) NOT NULL, 
	day DATE DEFAULT '1970-01-01' NOT NULL, 
	item VARCHAR(200), 
	first_on_day BOOLEAN DEFAULT 0 NOT NULL, 
	first_of_name BOOLEAN DEFAULT 0 NOT NULL, 
	objection VARCHAR(10), 
	PRIMARY KEY (id), 
	FOREIGN KEY(trainee_id) REFERENCES trainee (id) ON DELETE CASCADE
);
INSERT INTO "answer" VALUES(1,1,'424c3c39e2b1450b96601b738d5784fb','2026-11-29 19:50:43.285247','fact::probe_unit',0,NULL,NULL,'no idea',NULL,1,1,'text','2026-11-29',NULL,1,0,NULL);
INSERT INTO "answer" VALUES(2,1,'1f651637103d4f13bba5ed2cf855376c','2026-11-29 19:50:43.423120','fact::probe_healthy',0,NULL,NULL,'2',NULL,0,1,'text','2026-11-29',NULL,1,0,NULL);
INSERT INTO "answer" VALUES(3,1,'461bac6592f0435ca8381bf16643f806','2026-11-29 19:50:44.177408','fact::probe_watched',0,NULL,NULL,'3',NULL,0,1,'text','2026-11-29',NULL,1,0,NULL);
INSERT INTO "answer" VALUES(4,2,'5e4b053f1177491abb0883fa0ec10467','2026-11-29 19:50:57.196338','name::explorer_shepherd',0,'mouth_mirror',NULL,'mouth mirror',NULL,0,1,'text','2026-11-29','explorer_shepherd',1,0,'open');
INSERT INTO "answer" VALUES(5,2,'1ab063c1f27a471ba9ea1cfe29d4c5be','2026-11-29 19:50:58.026934','name::mouth_mirror',0,NULL,NULL,'no idea',NULL,1,1,'text','2026-11-29','mouth_mirror',1,0,NULL);
CREATE TABLE memory (
	trainee_id INTEGER NOT NULL, 
	topic VARCHAR(200) NOT NULL, 
	state INTEGER NOT NULL, 
	step INTEGER, 
	stability FLOAT, 
	difficulty FLOAT, 
	due DATETIME NOT NULL, 
	last_review DATETIME, 
	first_right BOOLEAN, 
	PRIMARY KEY (trainee_id, topic), 
	FOREIGN KEY(trainee_id) REFERENCES trainee (id) ON DELETE CASCADE
);
INSERT INTO "memory" VALUES(1,'fact::probe_unit',2,NULL,0.212,6.4133,'2026-11-30 19:50:43.285247','2026-11-29 19:50:43.285247',0);
INSERT INTO "memory" VALUES(1,'fact::probe_healthy',2,NULL,0.212,6.4133,'2026-11-30 19:50:43.423120','2026-11-29 19:50:43.423120',0);
INSERT INTO "memory" VALUES(1,'fact::probe_watched',2,NULL,0.212,6.4133,'2026-11-30 19:50:44.177408','2026-11-29 19:50:44.177408',0);
INSERT INTO "memory" VALUES(2,'name::explorer_shepherd',2,NULL,0.212,6.4133,'2026-11-30 19:50:57.196338','2026-11-29 19:50:57.196338',0);
INSERT INTO "memory" VALUES(2,'name::mouth_mirror',2,NULL,0.212,6.4133,'2026-11-30 19:50:58.026934','2026-11-29 19:50:58.026934',0);
CREATE TABLE observation (
	id INTEGER NOT NULL, 
	trainee_id INTEGER NOT NULL, 
	point VARCHAR(100) NOT NULL, 
	passed BOOLEAN NOT NULL, 
	observer VARCHAR(40) NOT NULL, 
	at DATETIME NOT NULL, 
	PRIMARY KEY (id), 
	FOREIGN KEY(trainee_id) REFERENCES trainee (id) ON DELETE CASCADE
);
INSERT INTO "observation" VALUES(1,1,'pass_zone',1,'Prof. Brown','2026-11-29 19:51:26.251847');
CREATE TABLE practice_store_version (
	version INTEGER NOT NULL, 
	PRIMARY KEY (version)
);
INSERT INTO "practice_store_version" VALUES(3);
CREATE TABLE trainee (
	id INTEGER NOT NULL, 
	name VARCHAR(40) NOT NULL, 
	since DATETIME NOT NULL, 
	name_key VARCHAR(200) DEFAULT '' NOT NULL, 
	code VARCHAR(200), 
	PRIMARY KEY (id), 
	UNIQUE (name)
);
INSERT INTO "trainee" VALUES(1,'Ann','2026-11-29 19:50:43.000406','ann',NULL);
INSERT INTO "trainee" VALUES(2,'Bob','2026-11-29 19:50:57.101399','bob','scrypt$acbc154e3347335b412d6f296f705c1d$1add03c6dec4b75790816203165d00e1eb44a4bb048b15cd1aa6015d7c58106f0b1aef6dcfab07704834968113bb7c27845bcb7843c3b2965492605ef7b5cf00');
CREATE UNIQUE INDEX trainee_by_key ON trainee (name_key);
CREATE INDEX answer_by_topic ON answer (trainee_id, topic, day);
CREATE UNIQUE INDEX answer_once ON answer (trainee_id, token);
CREATE INDEX answer_by_time ON answer (at);
COMMIT;
