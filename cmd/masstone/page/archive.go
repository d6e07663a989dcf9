package page

import (
	"strconv"

	"masstone/recipes/workbench"
)

func (q *ask) findForm() form {
	return looking("Archive", "/archive", "Find", text("words", "Words", q.text("words")).help("of client, part, target, resin, pigments, note"),
		text("lab", "Near the colour L,a,b", q.text("lab")).help("such as 64,-9,-4"), illuminant(or(q.text("illuminant"), "D65/10")),
		tick("approved", "Approved only").value(q.text("approved")), text("target", "Near the target", q.text("target")).more(), text("client", "Client", q.text("client")).more())
}

func or(a, b string) string {
	if a != "" {
		return a
	}
	return b
}

func (s *Server) archivePages() {
	s.get("/archive", func(q *ask) (view, error) {
		r := workbench.FindRequest{Words: q.text("words"), Lab: q.text("lab"), Target: q.text("target"), Approved: q.tick("approved"), Count: 60}
		if r.Target != "" {
			r.TargetClient = q.text("client")
		} else {
			r.Client = q.text("client")
		}
		if r.Lab != "" {
			r.Condition = q.condition()
		}
		v := struct {
			workbench.Found
			Form  form
			Wrong []string
		}{Form: q.findForm()}
		err := q.fault()
		if err == nil {
			v.Found, err = workbench.Find(q.Context(), q.bench, r)
		}
		if err != nil {
			v.Form.refused(q, err)
		}
		return view{"archive", "Archive", v}, nil
	})
	s.get("/approval", func(q *ask) (view, error) {
		v, err := workbench.ShowApproval(q.Context(), q.bench, workbench.ApprovalRequest{Target: q.text("target"), Client: q.text("client"), Version: q.whole("version", 0)})
		q.Form.Set("client", v.Client)
		return view{"approval", v.Name, struct {
			workbench.Approval
			Again, Link form
		}{v, q.batchForm("/reorder", "target", v.Target), q.linkForm(v.Target, v.Client, strconv.Itoa(v.Version))}}, err
	})
	answers(s, "/reorder", "/reorder", func(q *ask) (form, error) { return q.batchForm("/reorder", "target", q.text("target")), nil }, func(q *ask) (workbench.Reorder, error) {
		r := workbench.ReorderRequest{Target: q.text("target"), Client: q.text("client"), Making: q.making(), Shop: s.o.Shop}
		return calculated(q, func() (workbench.Reorder, error) { return workbench.MakeReorder(q.Context(), q.bench, r) })
	}, func(q *ask, v workbench.Reorder) (view, error) {
		return view{"reorder", "Reorder of " + v.Approval, v}, nil
	})
}
