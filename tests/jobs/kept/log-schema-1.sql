BEGIN TRANSACTION;
CREATE TABLE prints (number INTEGER PRIMARY KEY AUTOINCREMENT, date TEXT NOT NULL, print TEXT NOT NULL, prepared TEXT NOT NULL, edit TEXT NOT NULL, paper TEXT NOT NULL, room TEXT NOT NULL, sheet TEXT NOT NULL, settings TEXT NOT NULL, result TEXT NOT NULL, note TEXT NOT NULL, version TEXT NOT NULL, ticket TEXT NOT NULL);
INSERT INTO "prints" VALUES(1,'2026-03-01T20:15:00+01:00','/home/me/prints/hallway.tif','00000000000000000000000000000000','lanterns.tif','cotton-rag','hallway','A3+','fine art paper','too dark','evening','0.1.0','{"kind": "printprep job ticket", "schema": 3, "version": "0.1.0"}');
DELETE FROM "sqlite_sequence";
INSERT INTO "sqlite_sequence" VALUES('prints',1);
PRAGMA user_version = 1;
PRAGMA application_id = 1886415975;
COMMIT;
