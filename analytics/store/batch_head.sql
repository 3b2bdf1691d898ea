-- The batch asked for, with the spelling of its machines.

SELECT b.batch, m.incubator, m.air, h.incubator AS hatcher, b.set_on, b.transfer_on, b.pulled_on, b.notes
FROM batches b
LEFT JOIN incubators m ON label_of(m.incubator) = label_of(b.incubator) AND m.withdrawn_in IS NULL
LEFT JOIN incubators h ON label_of(h.incubator) = label_of(coalesce(b.hatcher, b.incubator))
    AND h.withdrawn_in IS NULL
WHERE b.withdrawn_in IS NULL AND label_of(b.batch) = label_of($batch)
