-- The chosen trays of closed batches as they are written down, those most asked for first, and how many there are.
-- Lists that are empty mean any. Of a step: the share lost in it of the eggs that came so far, the greatest first.

WITH written AS (
    SELECT c.*, t.hatched, t.culled, t.infertile, t.clear, t.early_dead, t.mid_dead, t.late_dead, t.internal_pip,
        t.external_pip, t.rotten, t.cracked, t.not_opened,
        [
            coalesce(t.infertile, 0) + coalesce(t.clear, 0), coalesce(t.early_dead, 0), coalesce(t.mid_dead, 0),
            coalesce(t.late_dead, 0), coalesce(t.internal_pip, 0) + coalesce(t.external_pip, 0)
        ] AS lost,
        coalesce(t.rotten, 0) + coalesce(t.not_opened, 0) + coalesce(c.unaccounted, 0) AS lost_besides
    FROM chosen c
    JOIN trays t ON label_of(t.batch) = c.batch_key AND label_of(t.tray) = c.tray_key AND t.withdrawn_in IS NULL
    WHERE c.closed
        AND (len($pens) = 0 OR list_contains(list_transform($pens, lambda x: label_of(x)), c.pen_key))
        AND (len($batches) = 0 OR list_contains(list_transform($batches, lambda x: label_of(x)), c.batch_key))
        AND (len($machines) = 0 OR list_contains(list_transform($machines, lambda x: label_of(x)), c.incubator_key)
            OR list_contains(list_transform($machines, lambda x: label_of(x)), c.hatcher_key))
        AND ($first = '' OR strftime(c.hatch_on, '%Y-%m') >= $first)
        AND ($last = '' OR strftime(c.hatch_on, '%Y-%m') <= $last)
), asked AS (
    SELECT *,
        CASE WHEN $stored THEN coalesce(storage_days, 0)
            WHEN $step = 'all' THEN NULL
            WHEN $place = 0 THEN (list_sum(lost) + lost_besides) / greatest(eggs_set - coalesce(cracked, 0), 1)
            ELSE lost[$place] / greatest(
                eggs_set - coalesce(cracked, 0) - coalesce(list_sum(lost[1:$place - 1]), 0), 1)
        END AS how_much,
        count(*) OVER () AS all_trays, sum(eggs_set) OVER () AS all_eggs,
        sum(CASE WHEN hatched IS NULL AND NOT in_hatch THEN 0 ELSE coalesce(hatched, 0) + coalesce(culled, 0) END)
            OVER () AS all_chicks
    FROM written
)
SELECT batch, tray, pen, incubator, hatcher, set_day, hatch_on, storage_days, eggs_set,
    hatched, culled, infertile, clear, early_dead, mid_dead, late_dead, internal_pip, external_pip, rotten, cracked,
    not_opened, unaccounted, in_hatch, in_staged, from_opened_eggs, all_trays, all_eggs, all_chicks
FROM asked
ORDER BY how_much DESC NULLS LAST, hatch_on DESC, batch_key, tray_key
LIMIT CASE WHEN $most > 0 THEN $most ELSE NULL END
