-- Migration 13: a revision label means one definition of a product.
--
-- Upper and lower case, blanks, tabs and no-break spaces make no other label.
-- What is stored already stays; nothing new is stored under a label that is
-- known with another hash, be it from a run, a gauge study or a release.

CREATE TRIGGER revision_label BEFORE INSERT ON revision
WHEN EXISTS (SELECT 1 FROM (SELECT label, hash FROM revision WHERE code = NEW.code
                            UNION ALL SELECT label, hash FROM release WHERE code = NEW.code)
             WHERE hash <> NEW.hash
               AND lower(replace(replace(replace(label,     ' ', ''), char(9), ''), char(160), ''))
                 = lower(replace(replace(replace(NEW.label, ' ', ''), char(9), ''), char(160), '')))
BEGIN SELECT RAISE(ABORT, 'padjig: the revision label is known with another definition'); END;

CREATE TRIGGER release_label BEFORE INSERT ON release
WHEN EXISTS (SELECT 1 FROM (SELECT label, hash FROM revision WHERE code = NEW.code
                            UNION ALL SELECT label, hash FROM release WHERE code = NEW.code)
             WHERE hash <> NEW.hash
               AND lower(replace(replace(replace(label,     ' ', ''), char(9), ''), char(160), ''))
                 = lower(replace(replace(replace(NEW.label, ' ', ''), char(9), ''), char(160), '')))
BEGIN SELECT RAISE(ABORT, 'padjig: the revision label is known with another definition'); END;
