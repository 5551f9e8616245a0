CREATE TABLE survey_versions (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	survey_id INTEGER NOT NULL, 
	version INTEGER NOT NULL CHECK (version >= 1), 
	record TEXT NOT NULL, 
	flat_path TEXT, 
	flat_sha256 TEXT, 
	overlay_path TEXT, 
	overlay_sha256 TEXT, 
	replaced_at TEXT NOT NULL, 
	why TEXT NOT NULL, 
	seal TEXT DEFAULT '' NOT NULL, 
	UNIQUE (survey_id, version), 
	FOREIGN KEY(survey_id) REFERENCES surveys (id)
);
CREATE INDEX ix_survey_versions_survey_id ON survey_versions (survey_id);
