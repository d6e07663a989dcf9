package papers

import (
	"errors"
	"fmt"

	"masstone/color"
)

// RunCertificate tells the client how a run of parts came out.
type RunCertificate struct {
	Heading
	Number    string        `json:"certificate"`
	Run       string        `json:"run"`
	Client    string        `json:"client,omitempty"`
	Target    string        `json:"target"`
	Approval  string        `json:"approval"`
	Recipe    string        `json:"recipe"`
	Resin     string        `json:"resin"`
	Lots      []Lot         `json:"lots,omitempty"`
	Moulds    []string      `json:"moulds,omitempty"`
	Under     string        `json:"under"`
	Formula   color.Formula `json:"formula"`
	PerAxis   bool          `json:"per_axis,omitempty"` // limits per axis: uncertainty and guard band are shares of the limit
	Agreed    string        `json:"agreed"`             // what is accepted, in words
	Parts     int           `json:"parts"`              // wanted
	Cast      int           `json:"cast"`
	Cups      int           `json:"cups"`
	CupsRead  int           `json:"cups_read"`
	Read      int           `json:"parts_read"`
	AsRead    int           `json:"passing_as_read"`
	Within    int           `json:"decided_within"`
	Outside   int           `json:"decided_outside"`
	CupsIn    int           `json:"cups_within"`
	Low       float64       `json:"share_low"` // 95 % interval of the share of cups within
	High      float64       `json:"share_high"`
	Risk      float64       `json:"risk"`
	U         float64       `json:"reading_u"`
	Guard     float64       `json:"guard_band"`
	Mean      float64       `json:"mean_dE00"`
	SD        float64       `json:"sd_dE00"`
	Worst     float64       `json:"worst_dE00"`
	WorstPart string        `json:"worst_part"`
	Shift     [3]float64    `json:"mean_shift"` // L*, a*, b*, parts less target
	Drift     string        `json:"drift,omitempty"`
	PouredOn  string        `json:"poured_on"` // first and last day
	All       []RunPartRead `json:"read"`
	Head      string        `json:"head,omitempty"`
	Notes     []string      `json:"notes,omitempty"`
}

// RunPartRead is a part on a certificate of a run.
type RunPartRead struct {
	Part     string  `json:"part"`
	Mould    string  `json:"mould,omitempty"`
	DE00     float64 `json:"dE00"`
	DL       float64 `json:"dL"`
	DA       float64 `json:"da"`
	DB       float64 `json:"db"`
	Chance   float64 `json:"chance"`
	Decision string  `json:"decision"`
}

func (c RunCertificate) check() error {
	if err := c.Heading.check(); err != nil {
		return err
	}
	switch {
	case c.Run == "" || c.Target == "":
		return errors.New("papers: certificate of no run: name it and its target")
	case len(c.All) == 0:
		return fmt.Errorf("papers: no part of %s was read: read one first", c.Run)
	}
	return finite("certificate of "+c.Run, c.Low, c.High, c.Risk, c.U, c.Guard, c.Mean, c.SD, c.Worst)
}

func (c RunCertificate) document() (any, error) { return c, nil }

// passes tells whether every part read is decided to be within.
func (c RunCertificate) passes() bool { return c.Within == c.Read }

func (c RunCertificate) design() (design, error) {
	d := design{Kind: "Run certificate", Name: c.Number, Day: c.day(), Shop: c.Shop, About: "Colour of a run of " + quoted(c.Target)}
	if c.Client != "" {
		d.About += " for " + c.Client
	}
	v := &verdict{Passes: c.passes(), Word: "Within tolerance"}
	if !v.Passes {
		v.Word = "Not all within tolerance"
	}
	v.Words = fmt.Sprintf("%d of %d parts that were read are within tolerance, each with a chance of at most %s %% of being called so in error. Of the %d cups read %d are; of all cups like them %s to %s %% (95 %% interval).",
		c.Within, c.Read, short(100*c.Risk), c.CupsRead, c.CupsIn, fixed(100*c.Low, 0), fixed(100*c.High, 0))
	if c.Drift != "" {
		v.Words += " The run drifts: " + c.Drift + "."
	}
	run := &facts{Title: "The run"}
	run.add("Parts wanted", fmt.Sprint(c.Parts))
	run.add("Parts cast", fmt.Sprintf("%d in %d cups", c.Cast, c.Cups))
	run.add("Parts read", fmt.Sprintf("%d of %d cups", c.Read, c.CupsRead))
	run.add("Agreed", c.Agreed)
	run.add("Mean difference", symbol(color.CIEDE2000)+" "+fixed(c.Mean, 2))
	run.add("Its spread (sd)", fixed(c.SD, 2))
	run.add("Worst", symbol(color.CIEDE2000)+" "+fixed(c.Worst, 2)+", "+c.WorstPart)
	run.add("Mean of parts less target", signed(c.Shift[0])+" L*, "+signed(c.Shift[1])+" a*, "+signed(c.Shift[2])+" b*")
	run.add("Within as read", fmt.Sprintf("%d of %d", c.AsRead, c.Read))
	run.add("Decided within, outside, undecided", fmt.Sprintf("%d, %d, %d", c.Within, c.Outside, c.Read-c.Within-c.Outside))
	run.add("95 % interval of the share of cups within", fixed(100*c.Low, 0)+" to "+fixed(100*c.High, 0)+" %")
	if c.U > 0 {
		unit := " " + symbol(c.Formula)
		if c.PerAxis {
			unit = " of the limit"
		}
		run.add("Standard uncertainty of a difference", fixed(c.U, 2)+unit)
		run.add("Guard band below the limit", fixed(c.Guard, 2)+unit)
	}
	t := &table{Title: "Parts read, less target, under " + c.Under, Columns: []column{{Head: "part", Strong: true}, {Head: "mould"}, {Head: symbol(color.CIEDE2000), Right: true, Strong: true},
		{Head: delta + "L*", Right: true}, {Head: delta + "a*", Right: true}, {Head: delta + "b*", Right: true}, {Head: "chance within", Right: true}, {Head: "decision"}}}
	for _, p := range c.All {
		t.add(p.Part, p.Mould, fixed(p.DE00, 2), signed(p.DL), signed(p.DA), signed(p.DB), fixed(100*p.Chance, 0)+" %", p.Decision)
	}
	origin := &facts{Title: "Where it comes from"}
	origin.add("Run", c.Run)
	origin.add("Approval", c.Approval)
	origin.add("Recipe", c.Recipe)
	origin.add("Resin", c.Resin)
	for _, l := range c.Lots {
		origin.add("Lot of "+l.Of, l.Lot)
	}
	for _, m := range c.Moulds {
		origin.add("Mould", m)
	}
	origin.add("Poured on", c.PouredOn)
	origin.add("Head of the log", c.Head)
	d.Blocks = []block{v, run, t, origin}
	if len(c.Notes) > 0 {
		d.Blocks = append(d.Blocks, &points{Title: "Notes", List: c.Notes})
	}
	d.Blocks = append(d.Blocks, &lines{Labels: []string{"Signature", "Date"}}, &points{Small: true, List: []string{
		"A part counts as within only where the chance that it is, the noise of the readings of part and target counted, is high enough: guarded acceptance, JCGM 106:2012. The guard band is how far below the limit that asks the difference to lie.",
		"The interval is that of Clopper and Pearson. A cup is within if all its parts that were read are; parts of one cup are alike and count once.",
	}})
	return d, nil
}

func (c RunCertificate) records() ([][]string, error) {
	rows := [][]string{{"certificate", "run", "client", "target", "part", "mould", "dE00", "dL*", "da*", "db*", "chance", "decision"}}
	for _, p := range c.All {
		rows = append(rows, []string{c.Number, c.Run, c.Client, c.Target, p.Part, p.Mould, plain(p.DE00), plain(p.DL), plain(p.DA), plain(p.DB), plain(p.Chance), p.Decision})
	}
	return rows, nil
}
