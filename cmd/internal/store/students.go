package store

import "context"

// Student is a line of a class list.
type Student struct {
	ID         string
	Cohort     string
	Site       string
	Instructor string // id
}

// PutStudents adds students, or changes cohort, site and instructor of those that
// are there; an empty one leaves it as it is. It tells how many are new.
func (s *Store) PutStudents(ctx context.Context, list []Student) (added int, err error) {
	err = s.write(ctx, func(q queryer) error {
		for _, st := range list {
			d := Details{Student: st.ID, Cohort: st.Cohort, Site: st.Site, Instructor: st.Instructor}
			if err := d.tidy(); err != nil {
				return err
			}
			if d.Student == "" {
				return tell("a student without an id")
			}
			var n int
			if err := q.row(ctx, `SELECT count(*) FROM students WHERE id = ?`, d.Student).Scan(&n); err != nil {
				return err
			}
			if n == 0 {
				added++
			}
			if _, err := q.exec(ctx, `INSERT INTO students (id, cohort, site, instructor) VALUES (?, ?, ?, ?)
				ON CONFLICT (id) DO UPDATE SET cohort = COALESCE(NULLIF(excluded.cohort, ''), students.cohort),
				site = COALESCE(NULLIF(excluded.site, ''), students.site), instructor = COALESCE(NULLIF(excluded.instructor, ''), students.instructor)`,
				d.Student, d.Cohort, d.Site, d.Instructor); err != nil {
				return err
			}
		}
		return nil
	})
	return added, s.fail("keep the class list", err)
}

// Students lists the students by id.
func (s *Store) Students(ctx context.Context) ([]Student, error) {
	list, err := s.students(ctx)
	return list, s.fail("list the students", err)
}

func (s *Store) students(ctx context.Context) ([]Student, error) { return s.studentsWhere(ctx, ``) }

func (s *Store) studentsWhere(ctx context.Context, where string, args ...any) ([]Student, error) {
	rows, err := s.read().query(ctx, `SELECT id, cohort, site, instructor FROM students `+where+` ORDER BY id`, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var list []Student
	for rows.Next() {
		var st Student
		if err := rows.Scan(&st.ID, &st.Cohort, &st.Site, &st.Instructor); err != nil {
			return nil, err
		}
		list = append(list, st)
	}
	return list, rows.Err()
}

// known makes sure that a student is in the list.
func known(ctx context.Context, q queryer, id string) error {
	_, err := q.exec(ctx, `INSERT INTO students (id, cohort, site, instructor) VALUES (?, '', '', '') ON CONFLICT (id) DO NOTHING`, id)
	return err
}
