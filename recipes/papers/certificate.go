package papers

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"masstone/color"
	"masstone/recipes"
)

// Certificate tells the client how near a part came.
type Certificate struct {
	Heading
	Number      string        `json:"certificate"` // as the shop counts them
	Client      string        `json:"client,omitempty"`
	Target      string        `json:"target"`
	Recipe      string        `json:"recipe,omitempty"`
	Batch       string        `json:"batch,omitempty"`
	Pour        string        `json:"pour,omitempty"`
	PartOfPour  int           `json:"part_of_pour,omitzero"` // which, where several parts were cast of it
	Mould       string        `json:"mould,omitempty"`
	Resin       string        `json:"resin,omitempty"`
	Calibration string        `json:"calibration,omitempty"`
	Lots        []Lot         `json:"lots,omitempty"`
	Formula     color.Formula `json:"formula,omitempty"` // CIEDE2000 if empty
	Tolerance   float64       `json:"tolerance"`         // largest difference agreed; 0 for none, with Axes
	// Axes are the largest L, a, b, C and H differences agreed, either way.
	Axes           map[string]float64 `json:"axes,omitempty"`
	EveryLight     bool               `json:"every_light"` // judged under every light, not the main one alone
	Lights         []Reading          `json:"readings"`    // by light, the main first
	Measurement    color.Measurement  `json:"measurement"`
	Instrument     string             `json:"instrument,omitempty"`
	Readings       int                `json:"part_readings,omitzero"`   // behind the part's mean
	TargetReadings int                `json:"target_readings,omitzero"` // behind the target's mean
	Scatter        float64            `json:"scatter_dE00,omitzero"`    // mean CIEDE2000 of the part's readings from their mean
	ThicknessMM    float64            `json:"thickness_mm,omitzero"`
	Backing        string             `json:"over,omitempty"`
	TargetReadOn   string             `json:"target_read_on,omitempty"` // days
	PouredOn       string             `json:"poured_on,omitempty"`
	ReadOn         string             `json:"read_on,omitempty"`
	ApprovedOn     string             `json:"approved_on,omitempty"`
	ApprovedBy     string             `json:"approved_by,omitempty"`
	Head           string             `json:"head,omitempty"` // of the bench's log when it was printed
	Notes          []string           `json:"notes,omitempty"`
}

// Reading is the target and the part under one light.
type Reading struct {
	Target color.Lab `json:"target"`
	Part   color.Lab `json:"part"`
}

// Lot is a delivery that went into a part.
type Lot struct {
	Of  string `json:"of"` // pigment code, or the resin
	Lot string `json:"lot"`
}

// Judgement is what a certificate concludes from its readings.
type Judgement struct {
	Within      bool
	Differences []color.Difference // by light, part less target
	Metamerism  []float64          // index of each light against the main one, whose own is 0
}

// axes are the coordinates of CIELAB in the order of Lab.Values.
var axes = [...]string{"L*", "a*", "b*"}

// Judge works out the differences and whether they keep the tolerance.
func (c Certificate) Judge() (Judgement, error) {
	j := Judgement{Within: true}
	for i, l := range c.Lights {
		d, err := color.Compare(l.Target, l.Part, orUsual(c.Formula))
		if err != nil {
			return j, fmt.Errorf("papers: certificate %s: %w", c.Number, err)
		}
		index := 0.0
		if i > 0 {
			if index, err = color.MetamerismLab(c.Lights[0].Target, c.Lights[0].Part, l.Target, l.Part, orUsual(c.Formula)); err != nil {
				return j, fmt.Errorf("papers: certificate %s: %w", c.Number, err)
			}
		}
		j.Differences, j.Metamerism = append(j.Differences, d), append(j.Metamerism, index)
		if i == 0 || c.EveryLight {
			j.Within = j.Within && (c.Tolerance == 0 || d.DE <= c.Tolerance) && len(exceeded(d, c.Axes)) == 0
		}
	}
	return j, nil
}

// decisive is the difference the verdict hangs on: the main light's or, where
// every light is judged, the one that exceeds most of the axes' limits, the
// largest of equals.
func (c Certificate) decisive(j Judgement) color.Difference {
	worst := j.Differences[0]
	if !c.EveryLight {
		return worst
	}
	for _, d := range j.Differences[1:] {
		more := len(exceeded(d, c.Axes)) - len(exceeded(worst, c.Axes))
		if more > 0 || more == 0 && d.DE > worst.DE {
			worst = d
		}
	}
	return worst
}

// ref is what the code leads to: the pour, or else the batch, or the target
// unless its name is too long for a code.
func (c Certificate) ref() Ref {
	r := RefTo(TargetRef, c.Client, c.Target)
	switch {
	case c.Pour != "":
		return RefTo(PourRef, c.Pour)
	case c.Batch != "":
		return RefTo(BatchRef, c.Batch)
	case c.Client == "":
		r = RefTo(TargetRef, c.Target)
	}
	if r.check() != nil {
		return Ref{}
	}
	return r
}

func (c Certificate) check() error {
	if err := c.Heading.check(); err != nil {
		return err
	}
	switch {
	case c.Target == "":
		return errors.New("papers: certificate for no target: name it")
	case len(c.Lights) == 0:
		return fmt.Errorf("papers: certificate for %q has no reading: read the part first", c.Target)
	case !(c.Tolerance > 0) && (c.Tolerance != 0 || len(c.Axes) == 0) || math.IsInf(c.Tolerance, 0):
		return fmt.Errorf("papers: certificate for %q: tolerance %g: give the difference that was agreed, above 0", c.Target, c.Tolerance)
	}
	for i := range c.Lights {
		l := &c.Lights[i]
		under := "reading under " + l.Part.Under.String()
		if err := cmp.Or(finiteLab(under, &l.Target), finiteLab(under, &l.Part)); err != nil {
			return err
		}
	}
	if err := cmp.Or(finite("certificate for "+c.Target, c.Scatter, c.ThicknessMM), c.checkAxes()); err != nil {
		return err
	}
	return c.ref().check()
}

func (c Certificate) document() (any, error) {
	j, err := c.Judge()
	if err != nil {
		return nil, err
	}
	type difference struct {
		Under      color.Condition `json:"under"`
		DE         float64         `json:"dE"`
		DL         float64         `json:"dL"`
		DA         float64         `json:"da"`
		DB         float64         `json:"db"`
		DC         float64         `json:"dC"`
		DH         float64         `json:"dH"`
		Words      string          `json:"words"`
		Metamerism *float64        `json:"metamerism,omitempty"`
	}
	differences := make([]difference, len(j.Differences))
	for i, d := range j.Differences {
		differences[i] = difference{Under: d.Std.Under, DE: rounded(d.DE), DL: rounded(d.DL), DA: rounded(d.DA), DB: rounded(d.DB),
			DC: rounded(d.DC), DH: rounded(d.DH), Words: d.Words()}
		if i > 0 {
			m := rounded(j.Metamerism[i])
			differences[i].Metamerism = &m
		}
	}
	c.Formula = orUsual(c.Formula)
	return struct {
		Certificate
		Differences []difference `json:"differences"`
		Within      bool         `json:"within"`
		Find        Ref          `json:"find,omitzero"`
	}{c, differences, j.Within, c.ref()}, nil
}

func (c Certificate) design() (design, error) {
	d := design{Kind: "Match certificate", Name: c.Number, Day: c.day(), Shop: c.Shop, Ref: c.ref()}
	if d.Name == "" {
		d.Name = c.Target
	}
	d.About = "Colour of " + quoted(c.Target)
	if c.Client != "" {
		d.About += " for " + c.Client
	}
	j, err := c.Judge()
	if err != nil {
		return d, err
	}
	colours, err := pair(&c.Lights[0].Target, &c.Lights[0].Part, "Part")
	if err != nil {
		return d, err
	}
	d.Blocks = []block{c.verdict(j), colours, c.differences(j), c.readings(), c.conditions(), c.origin()}
	if len(c.Notes) > 0 {
		d.Blocks = append(d.Blocks, &points{Title: "Notes", List: slices.Clone(c.Notes)})
	}
	sign := &lines{Labels: []string{"Approved by", "Signature", "Date"}}
	if c.ApprovedBy != "" {
		sign.Labels = []string{"Signature of " + c.ApprovedBy, "Date"}
	}
	d.Blocks = append(d.Blocks, sign, &points{Small: true, List: c.explained()})
	return d, nil
}

func (c Certificate) verdict(j Judgement) block {
	worst := c.decisive(j)
	v := &verdict{Passes: j.Within, Word: "Within tolerance"}
	if !j.Within {
		v.Word = "Not within tolerance"
	}
	v.Words = fmt.Sprintf("Under %s the part differs from the target by %s %s%s.", worst.Std.Under, symbol(worst.Formula), c.against(worst.DE), c.axesAgainst(worst))
	if c.EveryLight && len(j.Differences) > 1 {
		most := "largest"
		if len(c.Axes) > 0 {
			most = "worst"
		}
		v.Words += " That is the " + most + " of all lights, each of which was judged."
	}
	if w := worst.Words(); w == "alike" {
		v.Words += " To the eye the two are alike."
	} else {
		v.Words += " The part is " + w + "."
	}
	if c.Scatter > 0 && c.Tolerance > 0 && math.Abs(worst.DE-c.Tolerance) < c.Scatter {
		v.Words += fmt.Sprintf(" The limit is nearer than the readings of the part are to each other (%s).", fixed(c.Scatter, 2))
	}
	return v
}

func (c Certificate) differences(j Judgement) block {
	t := &table{Title: "Differences, part less target", Columns: []column{{Head: "light", Strong: true}, {Head: symbol(c.Formula), Right: true, Strong: true},
		{Head: delta + "L*", Right: true}, {Head: delta + "a*", Right: true}, {Head: delta + "b*", Right: true},
		{Head: delta + "C*", Right: true}, {Head: delta + "H*", Right: true}}}
	if len(j.Differences) > 1 {
		t.Columns = append(t.Columns, column{Head: "metamerism", Right: true})
	}
	t.Columns = append(t.Columns, column{Head: "the part is", Wraps: true})
	for i, d := range j.Differences {
		row := []string{d.Std.Under.String(), fixed(d.DE, 2), signed(d.DL), signed(d.DA), signed(d.DB), signed(d.DC), signed(d.DH)}
		if len(j.Differences) > 1 {
			row = append(row, unless(i == 0, fixed(j.Metamerism[i], 2)))
		}
		t.add(append(row, d.Words())...)
	}
	return t
}

func (c Certificate) readings() block {
	t := &table{Title: "Readings, means", Columns: []column{{Head: "light", Strong: true}}}
	for _, of := range []string{"target", "part"} {
		for _, axis := range axes {
			t.Columns = append(t.Columns, column{Head: of + " " + axis, Right: true})
		}
	}
	for _, l := range c.Lights {
		row := []string{l.Part.Under.String()}
		for _, lab := range []color.Lab{l.Target, l.Part} {
			for _, v := range lab.Values() {
				row = append(row, fixed(v, 2))
			}
		}
		t.add(row...)
	}
	return t
}

func (c Certificate) conditions() block {
	f := &facts{Title: "How it was read"}
	f.add("Formula", string(orUsual(c.Formula)))
	f.add("Judged under", c.judgedUnder())
	if c.Measurement != (color.Measurement{}) {
		f.add("Geometry", string(c.Measurement.Geometry))
		f.add("Mirror reflection", string(c.Measurement.Specular))
	}
	f.add("Instrument", c.Instrument)
	if c.ThicknessMM > 0 {
		f.add("Thickness", short(c.ThicknessMM)+" mm")
	}
	f.add("Backing", c.Backing)
	if c.Readings > 0 {
		f.add("Readings of the part", fmt.Sprint(c.Readings))
	}
	if c.TargetReadings > 0 {
		f.add("Readings of the target", fmt.Sprint(c.TargetReadings))
	}
	if c.Scatter > 0 {
		f.add("Scatter of the part's (MCDM)", symbol(color.CIEDE2000)+" "+fixed(c.Scatter, 2))
	}
	return f
}

func (c Certificate) judgedUnder() string {
	if !c.EveryLight {
		return c.Lights[0].Part.Under.String()
	}
	var all []string
	for _, l := range c.Lights {
		all = append(all, l.Part.Under.String())
	}
	return strings.Join(all, ", ")
}

func (c Certificate) origin() block {
	f := &facts{Title: "Where it comes from"}
	f.add("Recipe", c.Recipe)
	f.add("Batch", c.Batch)
	f.add("Pour", c.Pour)
	if c.PartOfPour > 0 {
		f.add("Part of the pour", fmt.Sprint(c.PartOfPour))
	}
	f.add("Mould", c.Mould)
	f.add("Resin", c.Resin)
	f.add("Calibration", c.Calibration)
	for _, l := range c.Lots {
		f.add("Lot of "+l.Of, l.Lot)
	}
	f.add("Target read on", c.TargetReadOn)
	f.add("Poured on", c.PouredOn)
	f.add("Part read on", c.ReadOn)
	f.add("Approved by", c.ApprovedBy)
	f.add("Approved on", c.ApprovedOn)
	f.add("Head of the log", c.Head)
	return f
}

func (c Certificate) explained() []string {
	say := []string{delta + "L* + is lighter, " + delta + "a* + redder, " + delta + "b* + yellower, " + delta + "C* + stronger; " + delta +
		"H* + is a turn of hue from red towards yellow, green, blue. Words are said of what is 0.2 or more."}
	if len(c.Lights) > 1 {
		if !c.EveryLight {
			say = append(say, "The verdict is on the first light; the others are for information.")
		}
		say = append(say, "Metamerism is the difference left under another light once that under the first is taken off (ISO 18314-4).")
	}
	return append(say, "The swatches are a printer's or screen's rendering, not a standard; judge by the readings.")
}

func (c Certificate) records() ([][]string, error) {
	j, err := c.Judge()
	if err != nil {
		return nil, err
	}
	rows := [][]string{{"certificate", "client", "target", "light", "part", "quantity", "value"}}
	add := func(light, part, quantity, value string) {
		rows = append(rows, []string{c.Number, c.Client, c.Target, light, part, quantity, value})
	}
	for i, l := range c.Lights {
		under, d := l.Part.Under.String(), j.Differences[i]
		for k, axis := range axes {
			add(under, "target", axis, plain(l.Target.Values()[k]))
		}
		for k, axis := range axes {
			add(under, "part", axis, plain(l.Part.Values()[k]))
		}
		add(under, "difference", string(d.Formula), plain(d.DE))
		for _, q := range []struct {
			name  string
			value float64
		}{{"dL*", d.DL}, {"da*", d.DA}, {"db*", d.DB}, {"dC*", d.DC}, {"dH*", d.DH}} {
			add(under, "difference", q.name, plain(q.value))
		}
		add(under, "difference", "words", d.Words())
		if i > 0 {
			add(under, "difference", "metamerism", plain(j.Metamerism[i]))
		}
	}
	if c.Tolerance > 0 {
		add("", "verdict", "tolerance", plain(c.Tolerance))
	}
	for _, a := range recipes.AxesOf(j.Differences[0], c.Axes) {
		add("", "verdict", "limit of d"+a.Axis+"*", plain(a.Limit))
	}
	add("", "verdict", "within", map[bool]string{true: "yes", false: "no"}[j.Within])
	for _, q := range []struct{ name, value string }{{"measurement", c.measured()}, {"poured on", c.PouredOn}, {"read on", c.ReadOn}, {"approved by", c.ApprovedBy}, {"approved on", c.ApprovedOn}, {"head of the log", c.Head}} {
		if q.value != "" {
			add("", "origin", q.name, q.value)
		}
	}
	return rows, nil
}

func (c Certificate) measured() string {
	if c.Measurement == (color.Measurement{}) {
		return ""
	}
	return c.Measurement.String()
}
