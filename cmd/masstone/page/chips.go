package page

import (
	"fmt"
	"strconv"

	"masstone/cmd/masstone/typed"
	"masstone/recipes/figure"
	"masstone/recipes/workbench"
)

// usualReadings is how many readings of a piece are asked for.
const usualReadings = 3

// A noted is readings of a piece that were typed and looked at, not yet stored.
type noted struct {
	Request workbench.AddReadingsRequest
	Scatter workbench.ReadingScatter
	Texts   []string
	Remarks workbench.Remarks
	Back    string
}

func (s *Server) chipPages() {
	s.get("/chips", func(q *ask) (view, error) {
		choose, resin, err := q.resins()
		if err != nil {
			return view{}, err
		}
		v := struct {
			Choose form
			workbench.ChipList
			New form
		}{Choose: looking("Chips", "/chips", "Show", choose)}
		if resin == "" {
			return view{"chips", "Chips", v}, nil
		}
		if v.ChipList, err = workbench.Chips(q.Context(), q.bench, resin); err != nil {
			return view{}, err
		}
		v.New, err = q.readingForm(workbench.ChipPiece, "", resin, "")
		return view{"chips", "Chips of " + resin, v}, err
	})
	s.get("/chip", func(q *ask) (view, error) {
		c, err := workbench.ShowChip(q.Context(), q.bench, q.text("resin"), q.text("name"))
		if err != nil {
			return view{}, err
		}
		f, err := q.readingForm(workbench.ChipPiece, c.Name, q.text("resin"), "")
		if err != nil {
			return view{}, err
		}
		return view{"chip", "Chip " + c.Name, struct {
			workbench.Chip
			Resin          string
			Read, Withdraw form
		}{c, q.text("resin"), f, q.withdrawForm(c)}}, nil
	})
	again := func(q *ask) (form, error) {
		name := q.text("name")
		if q.Form.Has("thickness") { // it was the form of a new piece
			name = ""
		}
		return q.readingForm(workbench.PieceKind(q.text("kind")), name, q.text("resin"), q.text("client"))
	}
	// the readings are looked at before they are stored
	answers(s, "/readings/look", "/readings", again, (*ask).noted, func(q *ask, n noted) (view, error) {
		leave := append([]int{}, n.Request.LeaveOut...)
		if n.Scatter.Outlier != nil {
			leave = append(leave, *n.Scatter.Outlier)
		}
		f := newForm("Readings", "/readings/"+q.PathValue("id"), "Store the readings")
		for i, text := range n.Texts {
			x := tick("leave-out."+strconv.Itoa(i+1), fmt.Sprintf("Leave reading %d out (%s)", i+1, text))
			f.Fields = append(f.Fields, x)
		}
		if !n.Request.Place.New {
			f.Fields = append(f.Fields, tick("replace", "In the place of those it has"))
		}
		return view{"noted", fmt.Sprintf("Readings of %s %s", n.Request.Place.Kind, n.Request.Place.Name), struct {
			noted
			Store form
		}{n, f}}, nil
	})
	s.post("/readings/{id}", action{nil, func(q *ask) (string, error) {
		n, is := result[noted](s.kept, q.PathValue("id"))
		if !is {
			return "", errGone
		}
		r := n.Request
		for i := range n.Texts {
			if q.tick("leave-out." + strconv.Itoa(i+1)) {
				r.LeaveOut = append(r.LeaveOut, i+1)
			}
		}
		r.Replace, r.Again = q.tick("replace"), true // the form's key tells a repeated one
		_, err := workbench.AddReadings(q.Context(), q.bench, r)
		return n.Back, err
	}})
	s.post("/chip/withdraw", action{func(q *ask) (form, error) {
		c, err := workbench.ShowChip(q.Context(), q.bench, q.text("resin"), q.text("name"))
		return q.withdrawForm(c), err
	}, func(q *ask) (string, error) {
		_, err := workbench.WithdrawChip(q.Context(), q.bench, workbench.WithdrawChipRequest{Resin: q.text("resin"), Chip: q.text("name"), Why: q.text("why"), Seen: q.text("seen")})
		return path("/chips", "resin", q.text("resin")), err
	}})
}

func (q *ask) withdrawForm(c workbench.Chip) form {
	return newForm("Withdraw chip "+c.Name, "/chip/withdraw", "Take it out of what is fitted", hidden("name", c.Name), hidden("resin", q.text("resin")), hidden("seen", c.Ref),
		text("why", "Why", "").needed().help("such as: poured from the wrong cup"))
}

// readingForm asks for readings of a piece; of a new one also what it is.
func (q *ask) readingForm(of workbench.PieceKind, name, resin, client string) (form, error) {
	f := newForm(fmt.Sprintf("Readings of a %s", of), "/readings/look", "Look at the readings", hidden("kind", string(of)), hidden("resin", resin), hidden("client", client))
	if name != "" {
		f.Fields = append(f.Fields, hidden("name", name))
	} else {
		f.Fields = append(f.Fields, text("name", "Name of the "+string(of), "").needed())
		if of == workbench.ChipPiece {
			pigments, err := workbench.Pigments(q.Context(), q.bench)
			if err != nil {
				return f, err
			}
			f.Fields = append(f.Fields, pigmentFields(pigments.Pigments, nil)...)
			f.Fields = append(f.Fields, tick("bare", "Bare resin, no pigment"))
		}
		f.Fields = append(f.Fields, q.backings("white"), number("thickness", "Thickness", "mm", 3.0),
			number("chip-grams", "Mixed resin in the cup", "g", 50.0), q.chipScale())
	}
	for n := range usualReadings {
		x := text("lab", fmt.Sprintf("Reading %d", n+1), "")
		x.Need = n == 0
		if n == 0 {
			x.Help = "L,a,b such as 61.2,38.9,21.4"
		}
		f.Fields = append(f.Fields, x)
	}
	f.Fields = append(f.Fields, q.instrumentFields("D65/10")...)
	f.Fields = append(f.Fields,
		pick("specular", "Specular reflection", "", choice{"", "not said"}, choice{"included", "included"}, choice{"excluded", "excluded"}).more(),
		pick("geometry", "Geometry", "", choice{"", "not said"}, choice{"d/8", "d/8"}, choice{"45/0", "45/0"}).more())
	return f, nil
}

// noted looks at typed readings: each as it comes, then how they agree.
func (q *ask) noted() (noted, error) {
	n := noted{Texts: q.labs()}
	p := workbench.PlaceRequest{Kind: workbench.PieceKind(q.text("kind")), Name: q.text("name"), Client: q.text("client"), Resin: q.text("resin"), Condition: q.condition(), Measurement: q.measured(), Instrument: q.text("instrument")}
	n.Request.Piece = workbench.NewPiece{ThicknessMM: q.number("thickness", typed.MM), Over: q.text("over"), Loadings: q.loadings("phr"), Bare: q.tick("bare"),
		ChipGrams: q.grams("chip-grams")}
	n.Request.Piece.ScaleChoice, n.Request.Piece.ScaleGrams = q.scale()
	if len(n.Texts) == 0 {
		q.missing("lab", "type what the instrument shows, such as 61.2,38.9,21.4")
	}
	if err := q.fault(); err != nil {
		return n, err
	}
	place, err := workbench.Place(q.Context(), q.bench, p)
	if err != nil {
		return n, err
	}
	if err := workbench.CheckNewPiece(q.Context(), q.bench, place, n.Request.Piece); err != nil {
		return n, err
	}
	n.Request.Place = place
	for i, text := range n.Texts {
		c, err := workbench.CheckReading(place, i+1, text)
		if err != nil {
			return n, err
		}
		n.Request.Labs = append(n.Request.Labs, c.Lab)
		n.Remarks = append(n.Remarks, c.Remarks...)
	}
	n.Scatter, err = workbench.Scatter(place, n.Request.Labs, nil)
	n.Back = path("/chip", "name", place.Name, "resin", place.Resin)
	if place.Kind == workbench.TargetPiece {
		n.Back = path("/target", "name", place.Name, "client", place.Client)
	}
	return n, err
}

// Rows are the readings with how far each lies from the mean.
func (n noted) Rows() []notedRow {
	var out []notedRow
	for i, lab := range n.Request.Labs {
		r := notedRow{Number: i + 1, Lab: figure.LabOf(lab), Under: lab.Under.String(), Odd: n.Scatter.Outlier != nil && *n.Scatter.Outlier == i+1}
		if i < len(n.Scatter.From) {
			r.From = n.Scatter.From[i]
		}
		out = append(out, r)
	}
	return out
}

type notedRow struct {
	Number int
	Lab    figure.Lab
	Under  string
	From   figure.Number
	Odd    bool
}
