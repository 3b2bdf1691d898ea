-- The trays that a question is about: labels by their keys, days of hatch for closed batches only (an open
-- batch has no day of hatch yet). Empty lists mean all.

CREATE OR REPLACE TEMP TABLE chosen AS
WITH wanted_species AS (SELECT label_of(unnest($species::VARCHAR[])) AS label),
wanted_pens AS (SELECT label_of(unnest($pens::VARCHAR[])) AS label),
wanted_incubators AS (SELECT label_of(unnest($incubators::VARCHAR[])) AS label)
SELECT *
FROM trays_of
WHERE (NOT closed OR hatch_on BETWEEN $earliest::DATE AND $latest::DATE)
    AND (len($species::VARCHAR[]) = 0 OR species IN (SELECT label FROM wanted_species))
    AND (len($pens::VARCHAR[]) = 0 OR pen_key IN (SELECT label FROM wanted_pens))
    AND (len($incubators::VARCHAR[]) = 0 OR incubator_key IN (SELECT label FROM wanted_incubators)
        OR hatcher_key IN (SELECT label FROM wanted_incubators))
