-- Taps at the bench: drafts of a tray's outcomes, in no rate until the tray is closed.
--
-- A tap is never deleted. Taking one back is a row of its own that names it in `undoes`. Closing a tray writes
-- the sums into the sheet trays and marks all its rows with that entry of the ledger, in one transaction.

CREATE TABLE taps (
    tap VARCHAR NOT NULL,
    row_key VARCHAR NOT NULL,
    outcome VARCHAR NOT NULL,
    eggs INTEGER NOT NULL,
    device VARCHAR NOT NULL,
    made_at TIMESTAMP NOT NULL,
    undoes VARCHAR,
    closed_in BIGINT,
    change_no BIGINT NOT NULL
);
COMMENT ON TABLE taps IS 'One row per tap at the bench, and per tap taken back; drafts until the tray is closed';
COMMENT ON COLUMN taps.tap IS 'Random name that the device gave it, so that one sent twice is kept once';
COMMENT ON COLUMN taps.row_key IS 'row_key of the tray in trays';
COMMENT ON COLUMN taps.outcome IS 'Column of trays that it counts towards';
COMMENT ON COLUMN taps.eggs IS 'Eggs; less than none for a tap taken back, 0 for one that was refused';
COMMENT ON COLUMN taps.device IS 'Random name of the phone or computer, which takes back its own taps only';
COMMENT ON COLUMN taps.made_at IS 'When it was kept, UTC';
COMMENT ON COLUMN taps.undoes IS 'The tap that this row takes back, itself where it was refused; NULL = a tap';
COMMENT ON COLUMN taps.closed_in IS 'Ledger entry that closed the tray with it; NULL = a draft';
COMMENT ON COLUMN taps.change_no IS 'Change count of the transaction that kept it; answers do not change with it';
