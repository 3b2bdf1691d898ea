-- How often what happened to each machine while chosen eggs were in it; each event once.
SELECT incubator, event, count(*) AS times
FROM (
    SELECT DISTINCT m.incubator, e."at", e.event
    FROM incubator_events e
    JOIN stays s ON s.machine_key = label_of(e.incubator) AND s.wanted
        AND e."at" >= s.from_at AND e."at" < s.to_at
    JOIN incubators m ON label_of(m.incubator) = s.machine_key AND m.withdrawn_in IS NULL
    WHERE e.withdrawn_in IS NULL
)
GROUP BY incubator, event
ORDER BY incubator, event
