package page

// answers adds a form whose answer is no record of the bench: the answer is kept for a
// while, and its page stands below an address of its own.
func answers[V any](s *Server, path, page string, of func(*ask) (form, error), do func(*ask) (V, error), show func(*ask, V) (view, error)) {
	s.post(path, action{of, func(q *ask) (string, error) {
		v, err := do(q)
		if err == nil {
			err = q.fault()
		}
		if err != nil {
			return "", err
		}
		return page + "/" + s.kept.put(v), nil
	}})
	s.get(page+"/{id}", func(q *ask) (view, error) {
		v, is := result[V](s.kept, q.PathValue("id"))
		if !is {
			return view{}, errGone
		}
		return show(q, v)
	})
}

// calculated does what takes a while and somebody waits for, unless what was typed is
// wrong already.
func calculated[V any](q *ask, do func() (V, error)) (V, error) {
	var none V
	if err := q.fault(); err != nil {
		return none, err
	}
	done, err := calculating(q.Context(), q.s.heavy)
	if err != nil {
		return none, err
	}
	defer done()
	return do()
}
