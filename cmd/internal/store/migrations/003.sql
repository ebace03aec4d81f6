-- Version 3: what lists of attempts are picked and put in order by. {{listen}} is
-- the number of doubtful marks in details.

ALTER TABLE attempts ADD COLUMN listen BIGINT NOT NULL DEFAULT 0; -- doubtful marks left
UPDATE attempts SET listen = {{listen}} WHERE details <> '';

CREATE INDEX attempts_waiting ON attempts (id) WHERE listen > 0;
CREATE INDEX attempts_cohort ON attempts (cohort, student);
CREATE INDEX attempts_day ON attempts (day);
CREATE INDEX students_cohort ON students (cohort);
