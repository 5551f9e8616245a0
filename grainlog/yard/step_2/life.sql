CREATE TABLE other_pieces (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
	kind TEXT NOT NULL,
	log_id INTEGER,
	length_mm FLOAT,
	width_mm FLOAT,
	thickness_mm FLOAT,
	count INTEGER NOT NULL,
	note TEXT DEFAULT '' NOT NULL,
	entered_at TEXT NOT NULL,
	words_folded TEXT DEFAULT '' NOT NULL,
	seal TEXT DEFAULT '' NOT NULL,
	CHECK (count >= 1),
	FOREIGN KEY(log_id) REFERENCES logs (id)
);
CREATE INDEX ix_other_pieces_log_id ON other_pieces (log_id);
CREATE TABLE changes (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
	slab_number INTEGER,
	log_id INTEGER,
	piece_id INTEGER,
	day TEXT NOT NULL,
	what TEXT NOT NULL,
	value TEXT DEFAULT '{}' NOT NULL,
	note TEXT DEFAULT '' NOT NULL,
	entered_at TEXT NOT NULL,
	words_folded TEXT DEFAULT '' NOT NULL,
	seal TEXT DEFAULT '' NOT NULL,
	CHECK ((slab_number IS NOT NULL) + (log_id IS NOT NULL) + (piece_id IS NOT NULL) = 1),
	FOREIGN KEY(slab_number) REFERENCES slabs (number),
	FOREIGN KEY(log_id) REFERENCES logs (id),
	FOREIGN KEY(piece_id) REFERENCES other_pieces (id)
);
CREATE INDEX ix_changes_log_id ON changes (log_id);
CREATE INDEX ix_changes_piece_id ON changes (piece_id);
CREATE INDEX ix_changes_slab_number ON changes (slab_number);
CREATE TABLE slab_life (
	slab_number INTEGER NOT NULL,
	status TEXT,
	until TEXT,
	for_whom TEXT,
	present INTEGER DEFAULT '1' NOT NULL,
	shed TEXT,
	stack TEXT,
	layer INTEGER,
	place_folded TEXT DEFAULT '' NOT NULL,
	face_up TEXT,
	owner TEXT,
	owner_folded TEXT DEFAULT '' NOT NULL,
	price FLOAT,
	figure TEXT,
	words_folded TEXT DEFAULT '' NOT NULL,
	seal TEXT DEFAULT '' NOT NULL,
	PRIMARY KEY (slab_number),
	CHECK (layer >= 1),
	FOREIGN KEY(slab_number) REFERENCES slabs (number)
);
CREATE INDEX ix_slab_life_status ON slab_life (status);
CREATE INDEX slab_life_by_place ON slab_life (place_folded, layer);
CREATE TABLE hauls (
	id INTEGER NOT NULL,
	name TEXT NOT NULL,
	name_folded TEXT NOT NULL,
	day TEXT,
	note TEXT DEFAULT '' NOT NULL,
	entered_at TEXT NOT NULL,
	seal TEXT DEFAULT '' NOT NULL,
	PRIMARY KEY (id),
	UNIQUE (name_folded)
);
CREATE TABLE haul_people (
	id INTEGER NOT NULL,
	haul_id INTEGER NOT NULL,
	name TEXT NOT NULL,
	name_folded TEXT NOT NULL,
	hours FLOAT,
	entered_at TEXT NOT NULL,
	seal TEXT DEFAULT '' NOT NULL,
	PRIMARY KEY (id),
	FOREIGN KEY(haul_id) REFERENCES hauls (id)
);
CREATE INDEX ix_haul_people_haul_id ON haul_people (haul_id);
CREATE TABLE haul_costs (
	id INTEGER NOT NULL,
	haul_id INTEGER NOT NULL,
	what TEXT NOT NULL,
	amount FLOAT NOT NULL,
	entered_at TEXT NOT NULL,
	seal TEXT DEFAULT '' NOT NULL,
	PRIMARY KEY (id),
	FOREIGN KEY(haul_id) REFERENCES hauls (id)
);
CREATE INDEX ix_haul_costs_haul_id ON haul_costs (haul_id);
CREATE TABLE haul_logs (
	id INTEGER NOT NULL,
	haul_id INTEGER NOT NULL,
	log_id INTEGER NOT NULL,
	seal TEXT DEFAULT '' NOT NULL,
	PRIMARY KEY (id),
	UNIQUE (log_id),
	FOREIGN KEY(haul_id) REFERENCES hauls (id),
	FOREIGN KEY(log_id) REFERENCES logs (id)
);
CREATE INDEX ix_haul_logs_haul_id ON haul_logs (haul_id);
CREATE VIEW slab_text AS
SELECT slabs.number AS number,
    CASE WHEN slabs.number > 0 THEN CAST(slabs.number AS TEXT)
        ELSE CAST(-slabs.number % 1000000 AS TEXT) || lower(slabs.letter) END
    || char(10) || logs.name_folded || char(10) || logs.species_folded
    || char(10) || coalesce((SELECT group_concat(words_folded, char(10)) FROM (
        SELECT words_folded FROM surveys WHERE slab_number = slabs.number ORDER BY id)), '')
    || char(10) || coalesce((SELECT words_folded FROM slab_life WHERE slab_number = slabs.number), '')
    || char(10) || coalesce((SELECT group_concat(words_folded, char(10)) FROM (
        SELECT words_folded FROM changes
        WHERE slab_number = slabs.number AND words_folded <> '' ORDER BY id)), '')
    || char(10) || coalesce((SELECT group_concat(words_folded, char(10)) FROM (
        SELECT words_folded FROM changes WHERE log_id = slabs.log_id AND words_folded <> '' ORDER BY id)), '')
    || char(10) || coalesce((SELECT hauls.name_folded || char(10) || coalesce((
        SELECT group_concat(name_folded, char(10)) FROM (
            SELECT name_folded FROM haul_people WHERE haul_id = hauls.id ORDER BY id)), '')
        FROM haul_logs JOIN hauls ON hauls.id = haul_logs.haul_id WHERE haul_logs.log_id = slabs.log_id), '')
    AS text
FROM slabs JOIN logs ON logs.id = slabs.log_id;
CREATE VIRTUAL TABLE slab_words USING fts5(text, tokenize = 'trigram case_sensitive 1');
INSERT INTO slab_words (rowid, text) SELECT number, text FROM slab_text;
