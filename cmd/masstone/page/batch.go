package page

import (
	"net/url"
	"slices"
	"strconv"
	"time"

	"masstone/cmd/masstone/typed"
	"masstone/recipes/batch"
	"masstone/recipes/figure"
	"masstone/recipes/workbench"
)

func (q *ask) batchForm(action, name, value string) form {
	usual := batch.UsualHandling()
	return newForm("Make it up", action, "Make the sheet", hidden(name, value), hidden("client", q.text("client")),
		number("grams", "Whole batch", "g", 0.0).help("pastes included; or the three that follow"), number("cavity-ml", "Volume of one part", "ml", 0.0),
		field{Name: "shots", Label: "Parts", Kind: wholeField}, text("waste", "Lost to cup, sprue and stick", "").help("such as 10%"), q.scaleField(),
		number("max-cup", "Largest cup to mix", "g", 0.0).more(), number("capacity", "Most the scale carries", "g", 0.0).more(), number("min-weigh", "Least line worth weighing", "g", 0.0).more(),
		number("grow", "May grow by", "", 0.0).help("such as 2%").more(), tick("tared", "The cup is zeroed before each line").more(), tick("neat", "Weigh every paste as it is").more(),
		tick("no-vacuum", "The cups are not degassed").more(), number("pour-rate", "Poured a minute", "g", usual.PourRate).more(), number("pot-life-margin", "Share of the pot life left unused", "", usual.Margin).more())
}

func (q *ask) making() workbench.Making {
	usual := batch.UsualHandling()
	m := workbench.Making{Grams: q.grams("grams"), CavityML: q.number("cavity-ml", typed.ML), Shots: q.whole("shots", 0), Waste: read(q, "waste", batch.ParseWaste), Grow: q.number("grow", typed.Share),
		MinWeigh: q.grams("min-weigh"), Capacity: q.grams("capacity"), Tared: q.tick("tared"), MaxCup: q.grams("max-cup"),
		Headroom: usual.Headroom, NoVacuum: q.tick("no-vacuum"), GramsPerMinute: usual.PourRate, Margin: usual.Margin, Neat: q.tick("neat"), DropScatter: 0.1}
	m.ScaleChoice, m.ScaleGrams = q.scale()
	if q.text("pour-rate") != "" {
		m.GramsPerMinute = q.number("pour-rate", typed.Grams)
	}
	if q.text("pot-life-margin") != "" {
		m.Margin = q.number("pot-life-margin", typed.Share)
	}
	return m
}

func (s *Server) batchPages() {
	s.get("/recipe/{id}", func(q *ask) (view, error) {
		v, err := workbench.ShowRecipe(q.Context(), q.bench, q.PathValue("id"))
		return view{"recipe", "Recipe " + v.ID, struct {
			workbench.RecipeHistory
			Make form
		}{v, q.batchForm("/batch", "recipe", v.ID)}}, err
	})
	s.post("/batch", action{func(q *ask) (form, error) { return q.batchForm("/batch", "recipe", q.text("recipe")), nil }, func(q *ask) (string, error) {
		r := workbench.BatchRequest{Recipe: q.text("recipe"), Making: q.making(), Shop: s.o.Shop}
		if err := q.fault(); err != nil {
			return "", err
		}
		v, err := workbench.MakeBatch(q.Context(), q.bench, r)
		return "/batch/" + v.Batch, err
	}})
	s.get("/batch/{id}", func(q *ask) (view, error) {
		sheet, lines, err := workbench.ShowBatch(q.Context(), q.bench, q.PathValue("id"), s.o.Shop)
		if err != nil {
			return view{}, err
		}
		if sheet == nil {
			f := newForm("Record the pour", "/pour", "Record the pour", hidden("batch", lines.Batch))
			return view{"lines", "Batch " + lines.Batch, struct {
				*workbench.BatchLines
				Pour form
			}{lines, f}}, nil
		}
		w, err := q.weigh(*sheet)
		return view{"batch", "Batch " + sheet.Batch.Batch, w}, err
	})
}

// A weighing is a batch that is being weighed. All of it stands in the address of
// its page: a reload, another tablet or the way back lose nothing.
type weighing struct {
	workbench.StoredBatch
	Rows   []weighLine
	Apart  *weighLine // the side that goes into each of several cups by itself
	Shares []share    // of them
	Now    *weighLine // the line at the scale, nil once all are in
	Over   *batch.Rescue
	Fields []field // what stands in the address
	Ways   []wayOn
	Start  string // unix seconds at which the pot life began
	Ends   int64
	Until  string
	Clock  bool // the line at the scale starts the pot life
	Pour   form
	Wrong  []string
	Sheet0 string
}

// A weighLine is a line of the sheet as it is weighed.
type weighLine struct {
	batch.Line
	Plan   batch.Mass // all of it that is to be in the cup
	Shown  batch.Mass // that the scale showed
	In     bool
	Begun  bool
	Add    batch.Mass // still to go in
	Cup    batch.Mass // in the cup once it is in
	Before batch.Mass
}

// A share is what goes into one of several cups.
type share struct {
	Cup             int
	Pot, Other, All batch.Mass
}

// A wayOn is a way to go on after an overshoot, and its address.
type wayOn struct {
	batch.Remedy
	Path string
	Best bool
}

// weigh reads from the address how far a batch is weighed.
func (q *ask) weigh(sheet workbench.StoredBatch) (weighing, error) {
	w := weighing{StoredBatch: sheet, Start: q.text("t"), Sheet0: q.URL.Path}
	plan, shown := q.shown("p"), q.shown("s")
	added := q.shown("a")
	for item, more := range added { // what was just added to a line
		shown[item] = shown[item].Plus(more)
	}
	var cup batch.Mass
	off := false
	state := url.Values{}
	var pot, planned batch.Mass // of the pot for several cups, on the sheet and now
	for _, l := range sheet.Lines {
		x := weighLine{Line: l, Plan: l.Grams}
		if p, is := plan[l.Item]; is {
			x.Plan = p
			state.Set("p."+l.Item, short(p))
		}
		if len(sheet.Cups) > 1 && l.Clock { // into each cup by itself
			w.Apart = &x
			continue
		}
		pot, planned = pot.Plus(l.Grams), planned.Plus(x.Plan)
		x.Shown, x.Begun = shown[l.Item], shown[l.Item].Positive() || q.tick("d."+l.Item)
		half := batch.Grams(sheet.Step.Grams() / 2)
		x.In = x.Begun && (q.tick("d."+l.Item) || x.Plan.Minus(x.Shown).Compare(half) < 0)
		if x.Begun {
			state.Set("s."+l.Item, short(x.Shown))
			if x.Shown.Minus(x.Plan).Compare(half) > 0 {
				off = true
			}
		}
		if q.tick("d." + l.Item) {
			state.Set("d."+l.Item, "1")
		}
		cup = cup.Plus(x.Shown)
		w.Rows = append(w.Rows, x)
	}
	for i := range w.Rows {
		x := &w.Rows[i]
		x.Before, x.Add = cup, x.Plan.Minus(x.Shown)
		x.Cup = cup.Plus(x.Add)
		if w.Now == nil && !x.In {
			w.Now = x
		}
	}
	if w.Apart != nil {
		w.share(planned.Grams()/pot.Grams(), w.Apart.Plan.Grams()/w.Apart.Grams.Grams())
	}
	if err := w.time(q, state); err != nil {
		return w, err
	}
	for name, values := range state {
		w.Fields = append(w.Fields, hidden(name, values[0]))
	}
	w.Clock = w.Now != nil && w.Now.Clock && w.Start == ""
	for _, name := range q.wrong.in {
		w.Wrong = append(w.Wrong, upperFirst(labelled(name)+" "+q.wrong.what[name]))
	}
	if off {
		poured := batch.Poured{}
		for _, x := range w.Rows {
			if x.Begun {
				poured[x.Item] = x.Shown
			} else {
				poured[x.Item] = batch.Mass{}
			}
		}
		rescue, err := workbench.Rescue(q.Context(), q.bench, workbench.RescueRequest{Batch: sheet.Batch.Batch, Poured: poured})
		if err != nil {
			return w, err
		}
		w.Over = &rescue
		w.ways(state)
	}
	w.pour()
	return w, nil
}

// share shares a pot out among the cups, that is so many times what the sheet says, as
// is the side that goes into each by itself.
func (w *weighing) share(pot, other float64) {
	for _, c := range w.Sheet.Cups {
		s := share{Cup: c.Number, Pot: batch.Grams(c.Pigmented.Grams() * pot), Other: batch.Grams(c.Other.Grams() * other)}
		s.All = s.Pot.Plus(s.Other)
		w.Shares = append(w.Shares, s)
	}
}

// time works out when the pot life ends.
func (w *weighing) time(q *ask, state url.Values) error {
	if w.Start == "now" {
		w.Start = strconv.FormatInt(q.s.o.Now().Unix(), 10)
	}
	began, err := strconv.ParseInt(w.Start, 10, 64)
	if w.Start == "" || err != nil {
		w.Start = ""
		return nil
	}
	state.Set("t", w.Start)
	minutes := w.Sheet.Clock.Usable
	if minutes > 0 {
		w.Ends = began + int64(60*minutes)
		w.Until = time.Unix(w.Ends, 0).Local().Format("15:04:05")
	}
	return nil
}

// ways are the ways on, the nearest first, each with the address at which the weighing
// goes on so.
func (w *weighing) ways(state url.Values) {
	best := -1
	for i, r := range w.Over.Remedies {
		query := url.Values{}
		for name, values := range state {
			query[name] = values
		}
		for _, l := range r.Lines {
			query.Set("p."+l.Item, short(l.Final))
		}
		w.Ways = append(w.Ways, wayOn{Remedy: r, Path: w.Sheet0 + "?" + query.Encode()})
		if r.Expected != nil && (best < 0 || *r.Expected < *w.Over.Remedies[best].Expected) {
			best = i
		}
	}
	if best >= 0 {
		nearest := w.Ways[best]
		nearest.Best = true
		w.Ways = slices.Insert(slices.Delete(w.Ways, best, best+1), 0, nearest)
	}
}

// pour is the form that records the pour as it was weighed.
func (w *weighing) pour() {
	f := newForm("Record the pour", "/pour", "Record the pour", hidden("batch", w.Batch.Batch))
	for _, x := range w.Rows {
		if x.Begun && x.Shown.Compare(x.Grams) != 0 {
			f.Fields = append(f.Fields, hidden("s."+x.Item, short(x.Shown)))
		}
	}
	if x := w.Apart; x != nil && x.Plan.Compare(x.Grams) != 0 {
		f.Fields = append(f.Fields, hidden("s."+x.Item, short(x.Plan)))
	}
	f.Fields = append(f.Fields, text("room", "Room", "").help("°C, such as 21"), text("lot", "Lots", "").help("CODE=LOT,...; those of the batch, if empty").more(), field{Name: "date", Label: "Poured on", Kind: dayField, Help: "today, if empty"}.more(), text("note", "Note", ""))
	w.Pour = f
}

func short(m batch.Mass) string { return figure.Short(m.Grams()) }
