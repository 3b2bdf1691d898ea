-- Hours in each machine by phase and species, and how many of those read lie outside the limits given.
-- $incubator, $phase, $species, $low_c, $high_c, $low_rh, $high_rh: lists of one length; NULL = no limit.
-- $harm_low, $harm_high: where embryos die within hours.
WITH limits AS (
    SELECT unnest($incubator::VARCHAR[]) AS incubator, unnest($phase::VARCHAR[]) AS phase,
        unnest($species::VARCHAR[]) AS species,
        unnest($low_c::DOUBLE[]) AS low_c, unnest($high_c::DOUBLE[]) AS high_c,
        unnest($low_rh::DOUBLE[]) AS low_rh, unnest($high_rh::DOUBLE[]) AS high_rh
)
SELECT h.incubator, h.phase, h.species, count(*) AS hours,
    count(h.mean_c) AS hours_c, avg(h.mean_c) AS mean_c,
    count(*) FILTER (WHERE h.mean_c < l.low_c) AS below_c,
    count(*) FILTER (WHERE h.mean_c > l.high_c) AS above_c,
    count(*) FILTER (WHERE h.mean_c < $harm_low) AS harm_below,
    count(*) FILTER (WHERE h.mean_c > $harm_high) AS harm_above,
    count(*) FILTER (WHERE h.of_both) AS hours_of_both, count(h.mean_rh) AS hours_rh, avg(h.mean_rh) AS mean_rh,
    count(*) FILTER (WHERE h.mean_rh < l.low_rh) AS below_rh,
    count(*) FILTER (WHERE h.mean_rh > l.high_rh) AS above_rh
FROM climate_hours h
JOIN limits l ON l.incubator = h.incubator AND l.phase = h.phase AND l.species = h.species
GROUP BY h.incubator, h.phase, h.species
ORDER BY h.incubator, h.phase DESC, hours DESC, h.species
