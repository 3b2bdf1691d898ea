-- What happened to a machine while chosen eggs were in it, by batch, phase and kind.
SELECT s.batch, m.incubator, s.phase, e.event, count(*) AS times, sum(coalesce(e.minutes, 0)) AS minutes,
    count(e.minutes) AS timed, min(e."at") AS first_at, max(e."at") AS last_at
FROM stays s
JOIN incubators m ON label_of(m.incubator) = s.machine_key AND m.withdrawn_in IS NULL
JOIN incubator_events e ON label_of(e.incubator) = s.machine_key AND e.withdrawn_in IS NULL
    AND e."at" >= s.from_at AND e."at" < s.to_at
WHERE s.wanted
GROUP BY s.batch, m.incubator, s.phase, e.event
ORDER BY s.batch, s.phase, e.event
