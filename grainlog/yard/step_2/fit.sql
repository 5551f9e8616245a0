CREATE TABLE defects (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	slab_number INTEGER NOT NULL, 
	survey_id INTEGER NOT NULL, 
	kind TEXT NOT NULL CHECK (kind IN ('check', 'pith', 'knot', 'bark pocket', 'void', 'shake', 'rot', 'metal', 'iron stain', 'old insect holes', 'insect holes with fresh dust')), 
	is_area INTEGER NOT NULL, 
	points_mm TEXT NOT NULL, 
	size_mm FLOAT NOT NULL, 
	note TEXT DEFAULT '' NOT NULL, 
	entered_at TEXT NOT NULL, 
	taken_back_at TEXT, 
	seal TEXT DEFAULT '' NOT NULL, 
	FOREIGN KEY(slab_number) REFERENCES slabs (number), 
	FOREIGN KEY(survey_id) REFERENCES surveys (id)
);
CREATE INDEX ix_defects_slab_number ON defects (slab_number);
CREATE INDEX ix_defects_survey_id ON defects (survey_id);
CREATE TABLE outline_curves (
	survey_id INTEGER NOT NULL, 
	slab_number INTEGER NOT NULL, 
	version INTEGER NOT NULL, 
	straight TEXT NOT NULL, 
	live TEXT NOT NULL, 
	round_mm FLOAT NOT NULL, 
	area_mm2 FLOAT NOT NULL, 
	seal TEXT DEFAULT '' NOT NULL, 
	PRIMARY KEY (survey_id), 
	FOREIGN KEY(survey_id) REFERENCES surveys (id), 
	FOREIGN KEY(slab_number) REFERENCES slabs (number)
);
CREATE INDEX ix_outline_curves_slab_number ON outline_curves (slab_number);
CREATE INDEX outline_curves_by_area ON outline_curves (area_mm2);
CREATE INDEX outline_curves_by_version ON outline_curves (version);
