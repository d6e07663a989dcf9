package workbench

import (
	"context"
	"errors"
	"fmt"

	"masstone/color/remedy"
	"masstone/recipes/archive"
	"masstone/recipes/batch"
	"masstone/recipes/figure"
)

// An AddMouldRequest adds a mould, or replaces its card. A number that is 0 is
// not known.
type AddMouldRequest struct {
	Name          string // as written on it
	Client, Part  string // whose, and of what
	Cavities      int    // filled by a shot, 1 or more
	CavityML      float64
	Silicone      string // product
	Cure          string // platinum or tin; "" if not known
	SiliconeGrams float64
	SiliconeLot   string
	Release       string // agent used on it
	MadeOn        string // day, 2026-03-31
	ShotsBefore   int    // cast in it before this bench counted
	Life          int    // shots expected of it
	Note          string
	Replace       bool

	ThicknessSDMM *float64 // by which parts cast in it miss their thickness; nil if not known
}

// A Mould is what parts are cast in, with the shots counted so far.
type Mould struct {
	Name     string         `json:"mould"`
	Client   string         `json:"client,omitempty"`
	Part     string         `json:"part,omitempty"`
	Cavities int            `json:"cavities"`
	CavityML *figure.Number `json:"cavity_ml,omitempty" doc:"each"`
	Silicone string         `json:"silicone,omitempty"`
	Cure     string         `json:"cure,omitempty"`
	Grams    *figure.Number `json:"silicone_g,omitempty"`
	Lot      string         `json:"silicone_lot,omitempty"`
	Release  string         `json:"release,omitempty"`
	MadeOn   string         `json:"made_on,omitempty"`
	Shots    int            `json:"shots" doc:"so far; a shot fills all cavities"`
	Life     int            `json:"expected_shots,omitempty"`
	Left     *int           `json:"shots_left,omitempty" doc:"of those expected"`
	Retired  string         `json:"retired,omitempty" doc:"why it is used no more"`
	Note     string         `json:"note,omitempty"`
	Cautions []string       `json:"cautions"`

	ThicknessSD *figure.Number `json:"thickness_sd_mm,omitempty" doc:"by which parts cast in it miss their thickness, a standard deviation"`
}

// A MouldOutcome is a mould, and what was done to its card.
type MouldOutcome struct {
	Outcome string `json:"outcome" doc:"added, unchanged, changed"`
	Mould
	Remarks Remarks `json:"-"`
}

// A MouldList is the moulds of a bench by name.
type MouldList struct {
	Moulds []Mould `json:"moulds" as:"mould add"`
}

// A ShownMould is a mould with the cups cast in it.
type ShownMould struct {
	Mould
	Cups []MouldCup `json:"cups"`
}

// A MouldCup is a cup of a run that was cast in a mould.
type MouldCup struct {
	Run   string `json:"run"`
	Pour  string `json:"pour"`
	On    string `json:"poured_on"`
	Parts int    `json:"parts"`
	Shots int    `json:"shots"`
}

// shotsFor is how often a mould is filled for some parts.
func shotsFor(parts, cavities int) int { return (parts + cavities - 1) / cavities }

func mouldView(ctx context.Context, a *archive.Bench, m archive.Mould) (Mould, []archive.RunCup, error) {
	v := Mould{Name: m.Name, Client: m.Client, Part: m.Part, Cavities: m.Cavities, CavityML: figure.Known(m.CavityML), Silicone: m.Silicone, Cure: m.Cure, Grams: figure.Known(m.SiliconeGrams),
		Lot: m.SiliconeLot, Release: m.Release, MadeOn: m.MadeOn, Shots: m.ShotsBefore, Life: m.ExpectedShots, Retired: m.Retired, Note: m.Note, Cautions: mouldCautions(m)}
	if m.ThicknessSD != nil {
		v.ThicknessSD = figure.Of(*m.ThicknessSD)
	}
	cups, err := a.CupsOfMould(ctx, m.Name)
	for _, k := range cups {
		v.Shots += shotsFor(k.Parts, m.Cavities)
	}
	if m.ExpectedShots > 0 {
		left := max(0, m.ExpectedShots-v.Shots)
		v.Left = &left
	}
	return v, cups, err
}

// mouldCautions are what a mould does to the parts and their colour. Common
// practice, no source.
func mouldCautions(m archive.Mould) []string {
	out := []string{}
	switch m.Cure {
	case archive.PlatinumCured:
		out = append(out, "Platinum-cured silicone does not set against sulphur clay, latex, tin-cured silicone and many printed resins: seal the original, or try a corner first.")
	case archive.TinCured:
		out = append(out, "Tin-cured silicone shrinks and hardens within months, and what it gives off may leave parts tacky: let a new mould rest open for some days, and measure the parts of an old one.",
			"Keep it away from platinum-cured silicone, which does not set against it.")
	default:
		out = append(out, "How the silicone cures is not known: do not put platinum-cured and tin-cured silicone together, nor platinum-cured on sulphur clay.")
	}
	if m.Release != "" && m.Release != "none" {
		out = append(out, "Release agent changes the gloss, and a film of it the reading: the same agent on every shot, and parts wiped before they are read.")
	}
	return out
}

// AddMould adds a mould.
func AddMould(ctx context.Context, b *Bench, r AddMouldRequest) (MouldOutcome, error) {
	var v MouldOutcome
	for _, n := range []struct {
		field string
		value int
	}{{"shots-before", r.ShotsBefore}, {"life", r.Life}} {
		if n.value < 0 {
			return v, outOfRange(n.field, n.value, "a whole number of 0 or more")
		}
	}
	if r.Cavities < 1 {
		return v, outOfRange("cavities", r.Cavities, "a whole number of 1 or more")
	}
	if r.Cure != "" && r.Cure != archive.PlatinumCured && r.Cure != archive.TinCured {
		return v, outOfRange("cure", r.Cure, archive.PlatinumCured+" or "+archive.TinCured)
	}
	if err := checkThicknessSD("mould "+r.Name, r.ThicknessSDMM, 0); err != nil {
		return v, err
	}
	card := archive.Mould{Name: r.Name, Client: r.Client, Part: r.Part, Cavities: r.Cavities, CavityML: r.CavityML, ThicknessSD: r.ThicknessSDMM, Silicone: r.Silicone, Cure: r.Cure, SiliconeGrams: r.SiliconeGrams,
		SiliconeLot: r.SiliconeLot, Release: r.Release, MadeOn: r.MadeOn, ShotsBefore: r.ShotsBefore, ExpectedShots: r.Life, Note: r.Note}
	err := together(ctx, b, &v, func(a *archive.Bench) error {
		outcome, err := a.PutMould(ctx, card, onChange(r.Replace))
		if err != nil {
			return advise(err, "add "+remedy.Input("replace")+" to replace the card")
		}
		v.Outcome = string(outcome)
		v.Mould, _, err = mouldView(ctx, a, card)
		return err
	})
	b.warnAhead(r.MadeOn, &v.Remarks)
	return v, err
}

// A RetireMouldRequest says that a mould is used no more.
type RetireMouldRequest struct {
	Name, Why string
}

// RetireMould keeps why a mould is used no more.
func RetireMould(ctx context.Context, b *Bench, r RetireMouldRequest) (MouldOutcome, error) {
	var v MouldOutcome
	if r.Why == "" {
		return v, missing("mould "+r.Name, "why", "say why it is used no more", "torn")
	}
	err := together(ctx, b, &v, func(a *archive.Bench) error {
		m, err := a.Mould(ctx, r.Name)
		if err != nil {
			return err
		}
		m.Retired = r.Why
		outcome, err := a.PutMould(ctx, m, archive.Replace)
		if err != nil {
			return err
		}
		v.Outcome = string(outcome)
		v.Mould, _, err = mouldView(ctx, a, m)
		return err
	})
	return v, err
}

// Moulds lists the moulds of a bench.
func Moulds(ctx context.Context, b *Bench) (MouldList, error) {
	v := MouldList{Moulds: []Mould{}}
	all, err := b.archive.Moulds(ctx)
	if err != nil {
		return v, err
	}
	for _, m := range all {
		view, _, err := mouldView(ctx, b.archive, m)
		if err != nil {
			return v, err
		}
		v.Moulds = append(v.Moulds, view)
	}
	return v, nil
}

// ShowMould shows a mould and the cups cast in it.
func ShowMould(ctx context.Context, b *Bench, name string) (ShownMould, error) {
	v := ShownMould{Cups: []MouldCup{}}
	m, err := b.archive.Mould(ctx, name)
	if err != nil {
		return v, err
	}
	view, cups, err := mouldView(ctx, b.archive, m)
	if err != nil {
		return v, err
	}
	v.Mould = view
	for _, k := range cups {
		run, err := b.archive.RunRef(ctx, k.Run)
		if err != nil {
			return v, err
		}
		p, err := b.archive.PourRef(ctx, k.Pour)
		if err != nil {
			return v, err
		}
		v.Cups = append(v.Cups, MouldCup{run.ID(), p.ID(), p.PouredOn, k.Parts, shotsFor(k.Parts, m.Cavities)})
	}
	return v, nil
}

// A WeighMouldRequest asks for the silicone of a new mould.
type WeighMouldRequest struct {
	BoxML, PartML float64     // the box to where it is filled; the original in it
	Mix           batch.Ratio // A:B by mass
	GramsPerML    float64     // of the mixed silicone
	Waste         float64     // share
}

// A MouldWeighing is the silicone to weigh for a new mould.
type MouldWeighing struct {
	Silicone      batch.Volume `json:"silicone_ml" doc:"that the mould takes"`
	Total         batch.Mass   `json:"total_g" doc:"waste included"`
	A             batch.Mass   `json:"a_g"`
	B             batch.Mass   `json:"b_g"`
	ContainerLow  batch.Volume `json:"container_low_ml" doc:"for degassing, 4 times the volume (common practice, no source)"`
	ContainerHigh batch.Volume `json:"container_high_ml" doc:"5 times"`
	Cautions      []string     `json:"cautions"`
}

// WeighMould is the silicone to weigh for a new mould.
func WeighMould(r WeighMouldRequest) (MouldWeighing, error) {
	for _, need := range []struct {
		missing             bool
		field, why, example string
	}{{r.BoxML == 0, "box-ml", "give length x width x height of fill, in cm", "400ml"}, {r.Mix == batch.Ratio{}, "mix", "give A:B by mass of the silicone", "100:10"},
		{r.GramsPerML == 0, "density", "give that of the mixed silicone", "1.1g/ml"}} {
		if need.missing {
			return MouldWeighing{}, missing("mould", need.field, need.why, need.example)
		}
	}
	s, err := batch.Moulding{Box: batch.Millilitres(r.BoxML), Part: batch.Millilitres(r.PartML), Mix: r.Mix, Density: batch.GramsPerML(r.GramsPerML), Waste: r.Waste}.Weigh()
	if err != nil {
		return MouldWeighing{}, invalid("", "%w", err)
	}
	return MouldWeighing{s.Silicone, s.Total, s.A, s.B, s.ContainerLow, s.ContainerHigh, mouldCautions(archive.Mould{})}, nil
}

// mould refuses a mould that is not on the bench, and says where its use ends.
func (r RunPourRequest) mould(ctx context.Context, a *archive.Bench, run archive.Run, say *Remarks) error {
	if r.Mould == "" {
		return nil
	}
	m, err := a.Mould(ctx, r.Mould)
	if errors.Is(err, archive.ErrNotFound) {
		return fmt.Errorf("%w; %s makes one known", err, remedy.Verb("mould add", "NAME"))
	}
	if err != nil {
		return err
	}
	if m.Retired != "" {
		say.warn("mould %s is retired: %s", m.Name, m.Retired)
	}
	if m.Client != "" && m.Client != run.Client {
		say.warn("mould %s is of %s, %s for %s", m.Name, m.Client, run.ID(), run.Client)
	}
	v, _, err := mouldView(ctx, a, m)
	if shots := v.Shots + shotsFor(max(1, r.Parts), m.Cavities); err == nil && v.Life > 0 && shots > v.Life {
		say.warn("mould %s has %d shots with these, %d were expected of it; look for tears and dull spots, and plan another", m.Name, shots, v.Life)
	}
	return err
}
