-- Hours with chosen eggs in a machine, and what its logger read in each: rows of one machine and hour, so that a
-- million readings become some ten thousand hours before anything else is asked of them. An hour counts as of the
-- hatcher when any eggs were hatching in the machine, else as of the setter; its species is that of the eggs that
-- decide, "" where they are of several. An hour is of both where eggs were set and hatched in the machine at once.
--
-- What no air in a machine can be is set aside and counted: a sensor that is out (-127 and the like), the 85 with
-- which a common sensor starts, what is no number, and anything outside 0 to 50; humidity of 0 and less, above 100,
-- or no number.

CREATE OR REPLACE TEMP TABLE climate_hours AS
WITH filled AS (
    SELECT machine_key, phase, species, wanted,
        unnest(generate_series(date_trunc('hour', from_at), to_at - INTERVAL 1 MICROSECOND, INTERVAL 1 HOUR)) AS hour
    FROM stays
),
egg_hours AS (
    SELECT machine_key, hour,
        CASE WHEN bool_or(phase = 'hatcher') THEN 'hatcher' ELSE 'setter' END AS phase,
        CASE WHEN bool_or(phase = 'hatcher') THEN min(species) FILTER (WHERE phase = 'hatcher')
            ELSE min(species) END AS first_species,
        CASE WHEN bool_or(phase = 'hatcher') THEN max(species) FILTER (WHERE phase = 'hatcher')
            ELSE max(species) END AS last_species,
        bool_or(phase = 'hatcher') AND bool_or(phase = 'setter') AS of_both
    FROM filled
    GROUP BY machine_key, hour
    HAVING bool_or(wanted)
),
spellings AS (
    SELECT DISTINCT incubator, label_of(incubator) AS machine_key FROM climate
),
judged AS (
    SELECT s.machine_key, date_trunc('hour', c."at") AS hour, c.temperature_c AS given_c, c.humidity_pct AS given_rh,
        CASE WHEN isnan(c.temperature_c) THEN 'no number'
            WHEN c.temperature_c <= -100 THEN 'sensor out'
            WHEN c.temperature_c = 85 THEN 'sensor starting'
            WHEN c.temperature_c < 0 OR c.temperature_c > 50 THEN 'not possible' END AS wrong_c,
        c.humidity_pct <= 0 OR c.humidity_pct > 100 OR isnan(c.humidity_pct) AS wrong_rh
    FROM climate c
    JOIN spellings s ON s.incubator = c.incubator
    WHERE c.withdrawn_in IS NULL
),
read_hours AS (
    SELECT machine_key, hour, count(*) AS readings,
        avg(given_c) FILTER (WHERE wrong_c IS NULL) AS mean_c,
        min(given_c) FILTER (WHERE wrong_c IS NULL) AS least_c,
        max(given_c) FILTER (WHERE wrong_c IS NULL) AS most_c,
        avg(given_rh) FILTER (WHERE NOT wrong_rh) AS mean_rh,
        count(*) FILTER (WHERE wrong_c = 'no number') AS no_number,
        count(*) FILTER (WHERE wrong_c = 'sensor out') AS sensor_out,
        count(*) FILTER (WHERE wrong_c = 'sensor starting') AS sensor_starting,
        count(*) FILTER (WHERE wrong_c = 'not possible') AS not_possible,
        count(*) FILTER (WHERE wrong_rh) AS wrong_rh
    FROM judged
    GROUP BY machine_key, hour
)
SELECT e.machine_key, m.incubator, e.hour, e.phase,
    CASE WHEN e.first_species = e.last_species THEN e.first_species ELSE '' END AS species,
    e.of_both, r.readings, r.mean_c, r.least_c, r.most_c, r.mean_rh,
    r.no_number, r.sensor_out, r.sensor_starting, r.not_possible, r.wrong_rh
FROM egg_hours e
JOIN incubators m ON label_of(m.incubator) = e.machine_key AND m.withdrawn_in IS NULL
LEFT JOIN read_hours r ON r.machine_key = e.machine_key AND r.hour = e.hour
