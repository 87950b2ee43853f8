-- A logbook of version 1, before entries had sums: one bath and one load, of a community darkroom that was made up.
CREATE TABLE book (id TEXT NOT NULL);
CREATE TABLE entry (
    place INTEGER PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL UNIQUE,
    body TEXT NOT NULL
);
INSERT INTO book (id) VALUES ('0c0c0c0c0c0c0c0c0c0c0c0c0c0c0c0c');
INSERT INTO entry (id, body) VALUES ('a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1', '{"id":"a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1","book":"0c0c0c0c0c0c0c0c0c0c0c0c0c0c0c0c","number":1,"bath":"a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1","happened":"2026-03-01T18:00:00+01:00[Europe/Vienna]","recorded":"2026-03-01T18:00:00+01:00[Europe/Vienna]","who":"ada","event":{"kind":"mixed","name":"tray-1","recipe":{"acid":"citric-anhydrous","percent":null,"per_litre":15.0},"indicator":null,"volume_ml":2000.0,"place":null,"keeping":"bottle","work":"paper"}}');
INSERT INTO entry (id, body) VALUES ('b2b2b2b2b2b2b2b2b2b2b2b2b2b2b2b2', '{"id":"b2b2b2b2b2b2b2b2b2b2b2b2b2b2b2b2","book":"0c0c0c0c0c0c0c0c0c0c0c0c0c0c0c0c","number":2,"bath":"a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1","happened":"2026-03-01T20:00:00+01:00[Europe/Vienna]","recorded":"2026-03-01T20:00:00+01:00[Europe/Vienna]","who":"ben","event":{"kind":"load","pieces":[{"piece":"8x10rc","count":6.0,"carry_over_ml":3.0,"measured":false}],"developer":{"name":"carbonate-1+2","own_meq":null},"by":null,"guessed":false,"films":[]}}');
PRAGMA application_id = 1953066612;
PRAGMA user_version = 1;
