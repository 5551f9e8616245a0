CREATE TABLE check_names (
	id INTEGER NOT NULL, 
	slab_number INTEGER NOT NULL, 
	name TEXT NOT NULL, 
	given_at TEXT NOT NULL, 
	seal TEXT DEFAULT '' NOT NULL, 
	PRIMARY KEY (id), 
	UNIQUE (slab_number, name), 
	FOREIGN KEY(slab_number) REFERENCES slabs (number)
);
CREATE INDEX ix_check_names_slab_number ON check_names (slab_number);
CREATE TABLE check_pairs (
	id INTEGER NOT NULL, 
	earlier_id INTEGER NOT NULL, 
	later_id INTEGER NOT NULL, 
	compared TEXT NOT NULL, 
	code TEXT DEFAULT '' NOT NULL, 
	why TEXT DEFAULT '' NOT NULL, 
	laid TEXT, 
	found_at TEXT NOT NULL, 
	seal TEXT DEFAULT '' NOT NULL, 
	PRIMARY KEY (id), 
	UNIQUE (earlier_id, later_id), 
	FOREIGN KEY(earlier_id) REFERENCES surveys (id), 
	FOREIGN KEY(later_id) REFERENCES surveys (id)
);
CREATE INDEX ix_check_pairs_earlier_id ON check_pairs (earlier_id);
CREATE INDEX ix_check_pairs_later_id ON check_pairs (later_id);
CREATE TABLE check_sightings (
	survey_id INTEGER NOT NULL, 
	place INTEGER NOT NULL, 
	slab_number INTEGER NOT NULL, 
	name TEXT NOT NULL, 
	tips_px TEXT NOT NULL, 
	seal TEXT DEFAULT '' NOT NULL, 
	PRIMARY KEY (survey_id, place), 
	FOREIGN KEY(survey_id) REFERENCES surveys (id)
);
CREATE TABLE hand_looks (
	id INTEGER NOT NULL, 
	slab_number INTEGER NOT NULL, 
	day TEXT NOT NULL, 
	end_met TEXT CHECK (end_met IN ('butt', 'top')), 
	check_name TEXT, 
	length_mm FLOAT CHECK (length_mm >= 0), 
	wax INTEGER, 
	bark_left TEXT, 
	bark_right TEXT, 
	note TEXT DEFAULT '' NOT NULL, 
	entered_at TEXT NOT NULL, 
	taken_back_at TEXT, 
	seal TEXT DEFAULT '' NOT NULL, 
	PRIMARY KEY (id), 
	FOREIGN KEY(slab_number) REFERENCES slabs (number)
);
CREATE INDEX ix_hand_looks_slab_number ON hand_looks (slab_number);
