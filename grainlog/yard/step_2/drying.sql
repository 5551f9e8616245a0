CREATE TABLE moisture_readings (
	id INTEGER NOT NULL,
	slab_number INTEGER NOT NULL,
	day TEXT NOT NULL,
	moisture FLOAT NOT NULL CHECK (moisture >= 0 AND moisture <= 2.5),
	method TEXT NOT NULL,
	depth_mm FLOAT,
	core INTEGER,
	corrected INTEGER,
	temperature_c FLOAT,
	place TEXT DEFAULT '' NOT NULL,
	wet_kg FLOAT,
	dry_kg FLOAT,
	note TEXT DEFAULT '' NOT NULL,
	entered_at TEXT NOT NULL,
	taken_back_at TEXT,
	seal TEXT DEFAULT '' NOT NULL,
	PRIMARY KEY (id),
	FOREIGN KEY(slab_number) REFERENCES slabs (number)
);
CREATE INDEX ix_moisture_readings_slab_number ON moisture_readings (slab_number);
CREATE TABLE weighings (
	id INTEGER NOT NULL,
	slab_number INTEGER NOT NULL,
	day TEXT NOT NULL,
	mass_kg FLOAT NOT NULL CHECK (mass_kg > 0),
	note TEXT DEFAULT '' NOT NULL,
	entered_at TEXT NOT NULL,
	taken_back_at TEXT,
	seal TEXT DEFAULT '' NOT NULL,
	PRIMARY KEY (id),
	FOREIGN KEY(slab_number) REFERENCES slabs (number)
);
CREATE INDEX ix_weighings_slab_number ON weighings (slab_number);
CREATE TABLE warp_readings (
	id INTEGER NOT NULL,
	slab_number INTEGER NOT NULL,
	day TEXT NOT NULL,
	cup_mm FLOAT,
	bow_mm FLOAT,
	twist_mm FLOAT,
	note TEXT DEFAULT '' NOT NULL,
	entered_at TEXT NOT NULL,
	taken_back_at TEXT,
	seal TEXT DEFAULT '' NOT NULL,
	PRIMARY KEY (id),
	FOREIGN KEY(slab_number) REFERENCES slabs (number)
);
CREATE INDEX ix_warp_readings_slab_number ON warp_readings (slab_number);
CREATE TABLE slab_wood (
	slab_number INTEGER NOT NULL,
	rings TEXT CHECK (rings IN ('flat', 'between', 'quarter')),
	pith_mm FLOAT,
	set_at TEXT NOT NULL,
	seal TEXT DEFAULT '' NOT NULL,
	PRIMARY KEY (slab_number),
	FOREIGN KEY(slab_number) REFERENCES slabs (number)
);
CREATE TABLE log_wood (
	log_id INTEGER NOT NULL,
	felled_on TEXT,
	sawn_on TEXT,
	pith_order INTEGER,
	set_at TEXT NOT NULL,
	seal TEXT DEFAULT '' NOT NULL,
	PRIMARY KEY (log_id),
	FOREIGN KEY(log_id) REFERENCES logs (id)
);
CREATE TABLE shed_days (
	id INTEGER NOT NULL,
	day TEXT NOT NULL,
	source TEXT NOT NULL,
	temperature_c FLOAT NOT NULL,
	humidity FLOAT NOT NULL,
	emc FLOAT,
	count INTEGER NOT NULL,
	note TEXT DEFAULT '' NOT NULL,
	entered_at TEXT NOT NULL,
	seal TEXT DEFAULT '' NOT NULL,
	PRIMARY KEY (id)
);
CREATE INDEX ix_shed_days_day ON shed_days (day);
CREATE TABLE own_species (
	id INTEGER NOT NULL,
	name TEXT NOT NULL,
	name_folded TEXT NOT NULL,
	like_name TEXT,
	own_values TEXT NOT NULL,
	entered_at TEXT NOT NULL,
	seal TEXT DEFAULT '' NOT NULL,
	PRIMARY KEY (id),
	UNIQUE (name_folded)
);
