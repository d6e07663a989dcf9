package papers

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"masstone/calibrate"
	"masstone/color"
)

// FitReport is a calibration on paper: what it was fitted from, how far it can be
// relied on, which chips to cast next, its charts, and every chip.
type FitReport struct {
	Heading
	Calibration string // such as CLR v3
	Resin       string
	ResinName   string
	FittedOn    string
	FittedBy    string
	From        string                 // calibration of another resin that the curves were carried over from
	Pours       int                    // that count beside the chips
	Names       map[string]string      // of pigments, by code
	Fit         *calibrate.Calibration // its chips are those of Chips, in their order
	Chips       []calibrate.Chip
	Crooked     string        // by how much castings miss the law of mixing, empty where nothing shows
	Next        []PlannedChip // to cast, the one that teaches most first
	NextNotes   []string
	Charts      []FitChart // of HTML and PDF
}

// FitChart is a chart in both forms that papers hold.
type FitChart struct {
	Alt  string  // for who cannot see it
	Wide float64 // share of the width of the page
	SVG  []byte
	PNG  []byte
}

func (r FitReport) check() error {
	if err := r.Heading.check(); err != nil {
		return err
	}
	switch {
	case r.Fit == nil || len(r.Fit.Curves) == 0:
		return errors.New("papers: report without a fit: give the calibration")
	case len(r.Chips) != len(r.Fit.Chips):
		return fmt.Errorf("papers: report of %s: %d chips for a calibration of %d: give those it was fitted to", r.Calibration, len(r.Chips), len(r.Fit.Chips))
	}
	for _, c := range r.Fit.Chips {
		if err := cmp.Or(finiteLab("chip "+c.Chip, &c.Measured), finiteLab("chip "+c.Chip, &c.Fitted), finite("chip "+c.Chip, c.DE00, c.LeftDE00, c.Sigma)); err != nil {
			return err
		}
	}
	return nil
}

func (r FitReport) design() (design, error) {
	d := design{Kind: "Fit report", Name: r.Calibration, Day: r.day(), Shop: r.Shop}
	d.About = fmt.Sprintf("How %s mix in resin %s, from %s", plural(len(r.Fit.Curves)-1, "pigment"), strings.TrimSuffix(r.Resin+", "+r.ResinName, ", "), plural(len(r.Chips), "chip"))
	if r.Pours > 0 {
		d.About += " and " + plural(r.Pours, "read pour")
	}
	d.Blocks = append(d.Blocks, r.fitted(), &points{Title: "How far to rely on it", List: r.reliance()})
	if doubts := r.doubts(); len(doubts) > 0 {
		d.Blocks = append(d.Blocks, &points{Title: "What to look at", List: doubts})
	}
	d.Blocks = append(d.Blocks, r.next()...)
	d.Blocks = append(d.Blocks, r.pigments())
	for _, c := range r.Charts {
		d.Blocks = append(d.Blocks, &picture{c.Alt, c.Wide, c.SVG, c.PNG})
	}
	d.Blocks = append(d.Blocks, r.chips(), &points{Small: true, List: []string{
		"Fitted: what the fit says of a chip that it has read. Left out: what the fit says of a chip without having read it, which is what it will say of a mixture. Sigma: how far the reading lies from that, in the bars claimed for it: the number of standard deviations that is as rare.",
		"Differences are " + string(color.CIEDE2000) + " under " + r.Fit.Main.String() + ".",
	}})
	return d, nil
}

// fitted is what was fitted, and how.
func (r FitReport) fitted() block {
	f := &facts{}
	f.add("Fitted on", r.FittedOn)
	f.add("By", r.FittedBy)
	f.add("Read as", r.evidence())
	f.add("Judged under", r.Fit.Main.String())
	f.add("Carried over from", r.From)
	f.add("Layer model", layerName(r.Fit.Layer.Name, r.Fit.Layer.Index, r.Fit.Layer.Anisotropy))
	f.add("Surface", r.surface())
	if l := r.Fit.LeaveOut; l.Chips > 0 {
		f.add("Left out, mean "+symbol(color.CIEDE2000), fixed(l.MeanDE00, 2))
		f.add("Median", fixed(l.MedianDE00, 2))
		f.add("Inside their 95 % bars", percent(l.Coverage95))
	}
	f.add("A paste from chip to chip", fixed(100*r.Fit.Scatter, 1)+" % in strength (sd)")
	return f
}

// evidence is what was read of the chips.
func (r FitReport) evidence() string {
	var parts []string
	if r.Fit.Spectral {
		parts = append(parts, "spectra")
	}
	var lights []string
	for _, c := range r.Fit.Lights {
		lights = append(lights, c.String())
	}
	if len(lights) > 0 {
		parts = append(parts, "Lab under "+strings.Join(lights, ", "))
	}
	return strings.Join(parts, " and ")
}

// surface is what the fit holds of the surface of a part.
func (r FitReport) surface() string {
	l := r.Fit.Layer
	switch {
	case l.Name == calibrate.ExactLayer && l.SurfaceKnown:
		return fmt.Sprintf("refractive index %s ± %s", fixed(l.Index, 3), fixed(l.IndexSD, 3))
	case l.Name == calibrate.ExactLayer && l.IndexSD > 0:
		return fmt.Sprintf("refractive index %s, hardly told by these readings", fixed(l.Index, 3))
	case l.Name == calibrate.ExactLayer:
		return fmt.Sprintf("refractive index %s, as told", fixed(l.Index, 3))
	case l.SurfaceKnown:
		return fmt.Sprintf("k1 %s ± %s, k2 %s ± %s", fixed(l.K1, 3), fixed(l.K1SD, 3), fixed(l.K2, 3), fixed(l.K2SD, 3))
	}
	return fmt.Sprintf("k1 %s, k2 %s, the usual ones", fixed(l.K1, 3), fixed(l.K2, 3))
}

// layerName names a layer model.
func layerName(name string, index, anisotropy float64) string {
	if name != calibrate.ExactLayer || index == 0 {
		return name
	}
	return fmt.Sprintf("%s, index %s, mean cosine %.2g", name, fixed(index, 3), anisotropy)
}

// reliance says how good the fit is, by what it says of chips it has not read.
func (r FitReport) reliance() []string {
	var say []string
	add := func(format string, a ...any) { say = append(say, fmt.Sprintf(format, a...)) }
	de := symbol(color.CIEDE2000)
	switch l := r.Fit.LeaveOut; l.Chips {
	case 0:
		add("No chip can be predicted from the others: more chips of their pigments tell how good the fit is.")
	case 1:
		add("Predicted from the others, %s is off by %s %s: more chips of their pigments tell how good the fit is.", r.leftOut(), de, fixed(l.MeanDE00, 2))
	default:
		add("Predicted from the others, %s are off by %s %s on average, half of them by less than %s; %s lie inside their 95 %% bars.", r.leftOut(), de, fixed(l.MeanDE00, 2), fixed(l.MedianDE00, 2), percent(l.Coverage95))
	}
	if r.Crooked != "" {
		say = append(say, onPaper(r.Crooked))
	} else {
		add("Nothing shows that castings miss the law of mixing.")
	}
	if m := r.Fit.ModelError; m.Widen != 1 || m.Floor >= 0.005 {
		text := "Bars are those of the fit"
		if times := fixed(m.Widen, 2); times != "1.00" {
			text = "Bars are " + times + " times those of the fit"
		}
		text += fmt.Sprintf(", with %s %.2g for what the model leaves out", de, m.Floor)
		if m.Layer >= 0.05 {
			text += fmt.Sprintf(", %.2g of it since another layer model may hold: more chips tell", m.Layer)
		}
		if m.Shop >= 0.05 {
			may := "castings may miss the law of mixing"
			if r.Crooked != "" {
				may = "castings may keep the law of mixing"
			}
			text += fmt.Sprintf(", %.2g of it since %s: more chips tell", m.Shop, may)
		}
		say = append(say, text+".")
	}
	if !r.Fit.Spectral && len(r.Fit.Lights) == 1 {
		add("Colours under other lights than %s are guesses: read the chips under a second light or as spectra.", r.Fit.Main)
	}
	var others []string
	for _, t := range r.Fit.Others {
		if t.Name != r.Fit.Layer.Name || t.Anisotropy != r.Fit.Layer.Anisotropy {
			others = append(others, fmt.Sprintf("%s (%s)", fixed(t.MeanDE00, 2), layerName(t.Name, t.Index, t.Anisotropy)))
		}
	}
	if len(others) > 0 {
		add("By the other layer models that were tried, left-out chips are off by %s.", strings.Join(others, "; "))
	}
	return say
}

// leftOut counts what the others can speak of, chips and pours.
func (r FitReport) leftOut() string {
	chips := 0
	for _, c := range r.Fit.Chips {
		if !c.Vague {
			chips++
		}
	}
	if pours := r.Fit.LeaveOut.Chips - chips; pours > 0 {
		return plural(chips, "chip") + " and " + plural(pours, "read pour")
	}
	return plural(r.Fit.LeaveOut.Chips, "chip")
}

// doubts are chips that look wrong, and what was warned of.
func (r FitReport) doubts() []string {
	var say []string
	for _, s := range r.Fit.Suspects {
		made := "the fit hears it faintly"
		if s.Taken {
			made = "the fit takes it for that"
		}
		says := onPaper(s.String())
		say = append(say, strings.ToUpper(says[:1])+says[1:]+"; "+made+", the record stays as it is.")
	}
	for _, w := range r.Fit.Warnings {
		say = append(say, onPaper(strings.TrimSuffix(w, "."))+".")
	}
	return say
}

// next is what to cast next.
func (r FitReport) next() []block {
	var out []block
	t := &table{Title: "What to cast next, what teaches most first", Columns: []column{{}, {Head: "chip", Strong: true}, {Head: "loadings (phr)", Wraps: true}, {Head: "over"}, {Head: "mm", Right: true}, {Head: "what it does", Wraps: true}}}
	for _, c := range r.Next {
		t.add(tickCell, c.Name, mixture(c.Loadings), c.Backing, short(c.ThicknessMM), onPaper(c.Why))
	}
	if len(r.Next) > 0 {
		out = append(out, t)
	}
	switch {
	case len(r.NextNotes) == 0:
	case len(r.Next) > 0:
		out = append(out, &points{List: slices.Clone(r.NextNotes)})
	default:
		out = append(out, &points{Title: "What to cast next", List: slices.Clone(r.NextNotes)})
	}
	return out
}

// onPaper writes what others say of differences as papers do.
func onPaper(says string) string { return strings.ReplaceAll(says, "dE00", symbol(color.CIEDE2000)) }

// mixture is loadings in a line, the largest first.
func mixture(phr map[string]calibrate.PHR) string {
	codes := slices.SortedFunc(maps.Keys(phr), func(a, b string) int { return cmp.Or(cmp.Compare(phr[b], phr[a]), cmp.Compare(a, b)) })
	var parts []string
	for _, code := range codes {
		if phr[code] > 0 {
			parts = append(parts, code+"\u00a0"+phrText(phr[code]))
		}
	}
	if len(parts) == 0 {
		return "bare resin"
	}
	return strings.Join(parts, ", ")
}

// pigments sums up the chips of each pigment.
func (r FitReport) pigments() block {
	t := &table{Title: "Pigment by pigment", Columns: []column{{Head: "pigment", Strong: true}, {Head: "name", Wraps: true}, {Head: "chips", Right: true}, {Head: "from phr", Right: true}, {Head: "to phr", Right: true},
		{Head: "left out, mean " + symbol(color.CIEDE2000), Right: true, Strong: true}, {Head: "worst", Right: true}, {Head: "of chip"}}}
	for _, code := range r.Fit.Codes() {
		var n, judged int
		var low, high calibrate.PHR
		var sum, most float64
		worst := ""
		for i, c := range r.Chips {
			phr := c.Loadings[code]
			if !(phr > 0) {
				continue
			}
			if n++; n == 1 || phr < low {
				low = phr
			}
			high = max(high, phr)
			if left := r.Fit.Chips[i]; !left.Vague {
				judged, sum = judged+1, sum+left.LeftDE00
				if left.LeftDE00 > most || worst == "" {
					most, worst = left.LeftDE00, left.Chip
				}
			}
		}
		row := []string{code, r.Names[code], fmt.Sprint(n), unless(n == 0, phrText(low)), unless(n == 0, phrText(high)), "–", "–", ""}
		if judged > 0 {
			row[5], row[6], row[7] = fixed(sum/float64(judged), 2), fixed(most, 2), worst
		}
		t.add(row...)
	}
	return t
}

// chips is every chip beside the fit.
func (r FitReport) chips() block {
	t := &table{Title: "Chip by chip", Columns: []column{{Head: "chip", Strong: true, Wraps: true}, {Head: "phr", Wraps: true}, {Head: "over"}, {Head: "mm", Right: true}, {Head: "read L* a* b*"},
		{Head: "fitted, " + symbol(color.CIEDE2000), Right: true}, {Head: "left out", Right: true, Strong: true}, {Head: "sigma", Right: true}, {Head: "remark"}}}
	for i, c := range r.Fit.Chips {
		k := r.Chips[i]
		left, sigma := fixed(c.LeftDE00, 2), fixed(c.Sigma, 1)
		if c.Vague {
			left, sigma = "–", "–"
		}
		t.add(c.Chip, mixture(k.Loadings), k.BackingName, short(k.Thickness), three(c.Measured), fixed(c.DE00, 2), left, sigma, r.mark(c))
	}
	return t
}

// mark is a word about a chip that is not as it should be.
func (r FitReport) mark(c calibrate.ChipReport) string {
	switch {
	case slices.ContainsFunc(r.Fit.Suspects, func(s calibrate.Suspect) bool { return slices.Contains(s.Chips, c.Chip) }):
		return "suspect"
	case c.Vague:
		return "not told"
	case !c.Inside:
		return "outside"
	}
	return ""
}

// three are the values of a colour that stay on one line.
func three(c color.Lab) string {
	return fixed(c.L, 2) + "\u00a0" + fixed(c.A, 2) + "\u00a0" + fixed(c.B, 2)
}

func (r FitReport) records() ([][]string, error) {
	codes := r.Fit.Codes()
	head := append([]string{"calibration", "chip", "backing", "thickness_mm"}, codes...)
	rows := [][]string{append(head, "under", "L_read", "a_read", "b_read", "L_fitted", "a_fitted", "b_fitted", "dE00", "left_out_dE00", "sigma", "inside95", "vague")}
	for i, c := range r.Fit.Chips {
		k := r.Chips[i]
		row := []string{r.Calibration, c.Chip, k.BackingName, plain(float64(k.Thickness))}
		for _, code := range codes {
			row = append(row, plain(float64(k.Loadings[code])))
		}
		row = append(row, c.Measured.Under.String())
		for _, lab := range []color.Lab{c.Measured, c.Fitted} {
			for _, v := range lab.Values() {
				row = append(row, plain(v))
			}
		}
		rows = append(rows, append(row, plain(c.DE00), plain(c.LeftDE00), plain(c.Sigma), fmt.Sprint(c.Inside), fmt.Sprint(c.Vague)))
	}
	return rows, nil
}

func (r FitReport) document() (any, error) {
	return struct {
		Heading
		Calibration string                    `json:"calibration"`
		Resin       string                    `json:"resin"`
		FittedOn    string                    `json:"fitted_on,omitempty"`
		FittedBy    string                    `json:"fitted_by,omitempty"`
		From        string                    `json:"from,omitempty"`
		Pigments    []string                  `json:"pigments"`
		Pours       int                       `json:"from_pours"`
		Evidence    string                    `json:"evidence"`
		Main        color.Condition           `json:"main"`
		Layer       calibrate.LayerModel      `json:"layer"`
		Tried       []calibrate.LayerTrial    `json:"layers_tried"`
		Scatter     float64                   `json:"strength_scatter"`
		Castings    calibrate.CastingError    `json:"castings"`
		Crooked     string                    `json:"castings_say,omitempty"`
		ModelError  calibrate.ModelError      `json:"model_error"`
		LeaveOut    calibrate.LeaveOutSummary `json:"leave_one_out"`
		Chips       []calibrate.ChipReport    `json:"chips"`
		Suspects    []calibrate.Suspect       `json:"suspects,omitempty"`
		Warnings    []string                  `json:"warnings,omitempty"`
		Next        []PlannedChip             `json:"next,omitempty"`
		NextNotes   []string                  `json:"next_notes,omitempty"`
	}{r.Heading, r.Calibration, r.Resin, r.FittedOn, r.FittedBy, r.From, r.Fit.Codes(), r.Pours, r.evidence(), r.Fit.Main, r.Fit.Layer, r.Fit.Others, r.Fit.Scatter,
		r.Fit.CastingError, r.Crooked, r.Fit.ModelError, r.Fit.LeaveOut, r.Fit.Chips, r.Fit.Suspects, r.Fit.Warnings, r.Next, r.NextNotes}, nil
}
