-- What is written down around the chosen batch, one row. $batch, $first_day and $last_day: the batch, its day of
-- setting, and the day it was taken out (the day asked about while it is in the machine).

WITH its AS (SELECT DISTINCT pen_key FROM chosen),
machines AS (
    SELECT label_of(incubator) AS machine FROM batches WHERE label_of(batch) = label_of($batch) AND withdrawn_in IS NULL
    UNION
    SELECT label_of(coalesce(hatcher, incubator)) FROM batches
    WHERE label_of(batch) = label_of($batch) AND withdrawn_in IS NULL
),
checked AS (
    SELECT * FROM checks
    WHERE withdrawn_in IS NULL AND label_of(incubator) IN (FROM machines)
        AND displayed_c IS NOT NULL AND reference_c IS NOT NULL
        AND "at" >= $first_day::DATE - $check_days::INTEGER AND "at" < $last_day::DATE + 1
),
opened AS (SELECT * FROM opened_eggs WHERE label_of(batch) = label_of($batch) AND withdrawn_in IS NULL),
its_trays AS (SELECT * FROM trays WHERE label_of(batch) = label_of($batch) AND withdrawn_in IS NULL),
days AS (
    SELECT label_of(tray) AS tray_key, max(day) AS day FROM chicks
    WHERE label_of(batch) = label_of($batch) AND withdrawn_in IS NULL
    GROUP BY 1
)
SELECT
    (SELECT count(*) FROM checked) AS checks,
    (SELECT avg(displayed_c - reference_c) FROM checked) AS display_offset_c,
    (SELECT count(*) FROM climate WHERE withdrawn_in IS NULL AND label_of(incubator) IN (FROM machines)
        AND "at" >= $first_day::DATE AND "at" < $last_day::DATE + 1) AS readings,
    (SELECT count(*) FROM hatch_counts WHERE withdrawn_in IS NULL AND label_of(batch) = label_of($batch)) AS counts,
    (SELECT count(*) FROM its_trays WHERE weight_set_g IS NOT NULL AND weight_transfer_g IS NOT NULL) AS weighed,
    (SELECT count(*) FROM candlings WHERE withdrawn_in IS NULL AND label_of(batch) = label_of($batch))
        + (SELECT count(*) FROM its_trays WHERE candled_on IS NOT NULL) AS candled,
    (SELECT CAST(coalesce(sum(f.eggs), 0) AS BIGINT) FROM fresh_eggs f
        WHERE f.withdrawn_in IS NULL AND label_of(f.pen) IN (FROM its)
            AND f.opened_on BETWEEN $first_day::DATE - $fresh_days::INTEGER AND $last_day::DATE + $fresh_days::INTEGER
        ) AS fresh_eggs,
    (SELECT count(*) FROM opened) AS opened,
    (SELECT count(*) FROM opened WHERE malposition IS NOT NULL AND malposition <> 2) AS malposition,
    (SELECT count(*) FROM opened WHERE malposition = 2) AS head_small_end,
    (SELECT count(*) FROM opened WHERE malformed) AS malformed,
    (SELECT count(*) FROM opened WHERE dry_membrane) AS dry_stuck,
    (SELECT CAST(coalesce(sum(c.splay_leg), 0) AS BIGINT) FROM chicks c JOIN days d
        ON label_of(c.tray) = d.tray_key AND c.day = d.day
        WHERE label_of(c.batch) = label_of($batch) AND c.withdrawn_in IS NULL) AS splay_leg,
    (SELECT count(*) FROM incubators WHERE withdrawn_in IS NULL) AS machines,
    (SELECT count(*) FROM pens p WHERE p.withdrawn_in IS NULL AND label_of(p.species) IN (SELECT species FROM chosen))
        AS pens
