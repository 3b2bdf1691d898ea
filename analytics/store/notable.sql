-- Events that may show in the air or the hatch, each once, where chosen eggs were in the machine.
SELECT DISTINCT m.incubator, e."at" AS "at", e.event, e.minutes
FROM incubator_events e
JOIN stays s ON s.machine_key = label_of(e.incubator) AND s.wanted AND e."at" >= s.from_at AND e."at" < s.to_at
JOIN incubators m ON label_of(m.incubator) = s.machine_key AND m.withdrawn_in IS NULL
WHERE e.withdrawn_in IS NULL AND e.event IN ('power_cut', 'turner_stopped', 'moved')
ORDER BY e."at", m.incubator
