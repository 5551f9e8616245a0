CREATE TABLE further_photos (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	survey_id INTEGER NOT NULL, 
	position INTEGER NOT NULL CHECK (position >= 2), 
	photo_name TEXT NOT NULL, 
	photo_sha256 TEXT NOT NULL, 
	original_path TEXT NOT NULL, 
	seal TEXT DEFAULT '' NOT NULL, 
	FOREIGN KEY(survey_id) REFERENCES surveys (id), 
	UNIQUE (photo_sha256)
);
CREATE INDEX ix_further_photos_survey_id ON further_photos (survey_id);
