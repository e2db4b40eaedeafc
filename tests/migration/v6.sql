PRAGMA application_id = 1347895652;
PRAGMA user_version = 6;
BEGIN TRANSACTION;
CREATE TABLE alarm_heard (
        job_id TEXT NOT NULL,
        key TEXT NOT NULL,
        heard_s INTEGER NOT NULL,
        PRIMARY KEY (job_id, key)
    ) WITHOUT ROWID;
INSERT INTO "alarm_heard" VALUES('dunlin','induction 2',1780000900);
CREATE TABLE entry (
        job_id TEXT NOT NULL,
        number INTEGER NOT NULL,
        kind TEXT NOT NULL,
        area_id TEXT NOT NULL,
        coat_id TEXT NOT NULL,
        at_s INTEGER NOT NULL,
        written_s INTEGER NOT NULL,
        by TEXT NOT NULL,
        hash TEXT NOT NULL,
        line BLOB NOT NULL,
        PRIMARY KEY (job_id, number)
    ) WITHOUT ROWID;
INSERT INTO "entry" VALUES('dunlin',1,'job','','',1780000000,1780000000,'crew','ab12',X'7B7D');
CREATE TABLE event (
        id INTEGER PRIMARY KEY,
        job_id TEXT NOT NULL REFERENCES job (id),
        coat_id TEXT NOT NULL DEFAULT '',
        kind TEXT NOT NULL,
        at_s INTEGER NOT NULL,
        detail_json TEXT NOT NULL DEFAULT '{}'
    );
INSERT INTO "event" VALUES(1,'dunlin','gloss-1','batch',1780000300,'{}');
CREATE TABLE fit (
        kind TEXT PRIMARY KEY,
        made_at_s INTEGER NOT NULL,
        json TEXT NOT NULL
    ) WITHOUT ROWID;
INSERT INTO "fit" VALUES('shop',1780000000,'{}');
CREATE TABLE forecast (
        id INTEGER PRIMARY KEY,
        source TEXT NOT NULL,
        lat_deg REAL NOT NULL,
        lon_deg REAL NOT NULL,
        altitude_m REAL NOT NULL,
        fetched_s INTEGER NOT NULL,
        checked_s INTEGER NOT NULL,
        issued_s INTEGER,
        sha256 TEXT NOT NULL,
        parsed_gzip BLOB NOT NULL
    );
INSERT INTO "forecast" VALUES(1,'metno',41.23,-96.54,361.0,1780000000,1780003600,1779999000,'cd34',X'1F8B');
CREATE TABLE forecast_body (
        forecast_id INTEGER NOT NULL REFERENCES forecast (id) ON DELETE CASCADE,
        step INTEGER NOT NULL,
        kind TEXT NOT NULL,
        fetched_s INTEGER NOT NULL,
        sha256 TEXT NOT NULL,
        body_gzip BLOB NOT NULL,
        PRIMARY KEY (forecast_id, step)
    ) WITHOUT ROWID;
INSERT INTO "forecast_body" VALUES(1,0,'complete',1780000000,'ef56',X'1F8B');
CREATE TABLE http_state (
        source TEXT NOT NULL,
        url TEXT NOT NULL DEFAULT '',
        expires_s INTEGER NOT NULL DEFAULT 0,
        next_allowed_s INTEGER NOT NULL DEFAULT 0,
        failures INTEGER NOT NULL DEFAULT 0,
        last_status INTEGER,
        last_error TEXT NOT NULL DEFAULT '',
        stopped_for TEXT NOT NULL DEFAULT '',
        PRIMARY KEY (source, url)
    ) WITHOUT ROWID;
INSERT INTO "http_state" VALUES('metno','',0,1780000900,2,503,'not available','');
INSERT INTO "http_state" VALUES('nws','',0,0,1,403,'refused','ab12');
CREATE TABLE import (
        id INTEGER PRIMARY KEY,
        file_name TEXT NOT NULL,
        sha256 TEXT NOT NULL UNIQUE,
        imported_at_s INTEGER NOT NULL,
        rows_read INTEGER NOT NULL,
        rows_used INTEGER NOT NULL,
        rows_dropped INTEGER NOT NULL,
        report_json TEXT NOT NULL
    );
INSERT INTO "import" VALUES(1,'shed.csv','ab12',1780000000,3,2,1,'{}');
CREATE TABLE instrument (id TEXT PRIMARY KEY, json TEXT NOT NULL) WITHOUT ROWID;
INSERT INTO "instrument" VALUES('probe','{}');
CREATE TABLE job (id TEXT PRIMARY KEY, toml TEXT NOT NULL);
INSERT INTO "job" VALUES('dunlin','schema = 1');
CREATE TABLE migration (version INTEGER PRIMARY KEY, name TEXT NOT NULL);
INSERT INTO "migration" VALUES(1,'2026-11-25 first tables');
INSERT INTO "migration" VALUES(2,'2026-11-26 forecasts');
INSERT INTO "migration" VALUES(3,'2026-11-26 said');
INSERT INTO "migration" VALUES(4,'2026-11-28 record');
INSERT INTO "migration" VALUES(5,'2026-11-28 sensor rows');
INSERT INTO "migration" VALUES(6,'2026-11-28 told');
CREATE TABLE product (id TEXT PRIMARY KEY, toml TEXT NOT NULL);
INSERT INTO "product" VALUES('gloss','schema = 1');
CREATE TABLE reading (
        time_s INTEGER NOT NULL,
        area TEXT NOT NULL DEFAULT '',
        air_temp_c REAL,
        rh_pct REAL,
        dew_point_c REAL,
        surface_temp_c REAL,
        surface_hot_c REAL,
        pressure_hpa REAL,
        wind_m_s REAL,
        rain_mm REAL,
        origin TEXT NOT NULL,
        flags INTEGER NOT NULL DEFAULT 0,
        import_id INTEGER REFERENCES import (id),
        PRIMARY KEY (time_s, area, origin)
    ) WITHOUT ROWID;
INSERT INTO "reading" VALUES(1780000000,'',12.5,104.0,NULL,NULL,NULL,NULL,NULL,NULL,'typed',1,NULL);
INSERT INTO "reading" VALUES(1780000000,'hull',12.5,71.0,7.4,10.9,11.8,1013.2,0.4,0.0,'imported',0,1);
CREATE TABLE reading_span (
        area TEXT NOT NULL,
        level INTEGER NOT NULL,
        chunk INTEGER NOT NULL,
        quantity TEXT NOT NULL,
        low_high BLOB NOT NULL,
        PRIMARY KEY (area, level, chunk, quantity)
    ) WITHOUT ROWID;
INSERT INTO "reading_span" VALUES('',0,1,'air_temp_c',X'00');
CREATE TABLE reading_told (
        area TEXT NOT NULL,
        quantity TEXT NOT NULL,
        unit INTEGER NOT NULL,
        PRIMARY KEY (area, quantity, unit)
    ) WITHOUT ROWID;
INSERT INTO "reading_told" VALUES('hull','air_temp_c',108642);
CREATE TABLE said (
    issued_s INTEGER PRIMARY KEY,
    start_s INTEGER NOT NULL,
    step_s INTEGER NOT NULL,
    air_temp_c_json TEXT NOT NULL
);
INSERT INTO "said" VALUES(1780000000,1780002000,3600,'[14.1, null]');
CREATE TABLE sensor (id TEXT PRIMARY KEY, json TEXT NOT NULL) WITHOUT ROWID;
INSERT INTO "sensor" VALUES('shed','{}');
CREATE TABLE sensor_row (
    sensor_id TEXT NOT NULL,
    time_s INTEGER NOT NULL,
    quantity TEXT NOT NULL,
    value REAL,
    flags INTEGER NOT NULL DEFAULT 0,
    PRIMARY KEY (sensor_id, time_s, quantity)
) WITHOUT ROWID;
INSERT INTO "sensor_row" VALUES('shed',1780000000,'air_temp_c',12.5,0);
CREATE TABLE sensor_state (id TEXT PRIMARY KEY, json TEXT NOT NULL) WITHOUT ROWID;
INSERT INTO "sensor_state" VALUES('shed','{}');
CREATE TABLE setting (key TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID;
INSERT INTO "setting" VALUES('units','"us"');
CREATE INDEX event_by_job ON event (job_id, at_s);
CREATE INDEX forecast_by_place
        ON forecast (source, lat_deg, lon_deg, altitude_m, issued_s);
CREATE INDEX entry_by_kind ON entry (job_id, kind, number);
CREATE TRIGGER entry_stays BEFORE UPDATE ON entry
        BEGIN SELECT RAISE (ABORT, 'entries are never changed'); END;
CREATE TRIGGER entry_remains BEFORE DELETE ON entry
        BEGIN SELECT RAISE (ABORT, 'entries are never removed'); END;
CREATE INDEX reading_unlogged ON reading (area, time_s)
        WHERE origin NOT IN ('measured', 'imported');
COMMIT;
