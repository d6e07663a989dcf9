package workbench

import (
	"context"
	"encoding/json"
	"time"

	"masstone/calibrate"
	"masstone/color/remedy"
	"masstone/recipes/archive"
	"masstone/recipes/batch"
	"masstone/recipes/figure"
	"masstone/recipes/papers"
)

// A Making says how much of a recipe is made, and how it is weighed, mixed and
// poured.
type Making struct {
	// Either the mass of the whole batch, pastes included, or the volume of a
	// part, the number of parts and the share lost to cup and stick.
	Grams    calibrate.Grams
	CavityML float64
	Shots    int
	Waste    float64

	// In place of the volume, a weighing that tells it: the original with its density
	// or with what it displaces of water, or the water that fills the mould.
	OriginalGrams, DisplacedGrams, WaterGrams calibrate.Grams
	OriginalGramsPerML, WaterCelsius          float64

	SprueML, SyringeML float64 // of one shot: sprue and vents, and what stays in the syringe
	Shrinkage          float64 // of the volume in curing, as a share

	Grow float64 // share by which the batch may grow so that lines fall better on the scale

	ScaleChoice
	ScaleGrams calibrate.Grams // step of the scale; that of the scale in use if 0
	MinWeigh   calibrate.Grams // least line worth weighing; ten steps if 0
	Capacity   calibrate.Grams // most the scale carries; no limit if 0
	Tared      bool            // the cup is zeroed before each line

	MaxCup         calibrate.Grams // largest cup to mix; no limit if 0
	ContainerML    float64         // brim volume of the cup at hand; any if 0
	Headroom       float64         // container over mixed volume, for the vacuum
	NoVacuum       bool            // the cups are not degassed
	GramsPerMinute float64         // poured
	Shot           time.Duration   // to load and inject one part; none if 0
	Margin         float64         // share of the pot life left unused
	Celsius        float64         // of the resin while it is used; as the data sheet's if 0
	Halving        float64         // °C warmer at which the pot life is half; usual if 0
	PotLife        time.Duration   // as it was timed; the resin's at its temperature if 0
	People         int             // who share the work; one if 0

	Neat        bool                       // no paste is pre-diluted
	NoJars      bool                       // pre-dilutions at hand are left alone
	DropGrams   map[string]calibrate.Grams // mass of a drop, of pastes counted in drops
	DropScatter float64                    // of one drop's mass, one standard deviation, as a share
}

// A BatchRequest makes a recipe up for an amount.
type BatchRequest struct {
	Recipe string
	Making
	Poured   batch.Poured // what the scale showed for lines that are in the cup already
	Smallest bool         // say how small the batch may be made
	Shop     []string     // who made it, on the sheet: name, then lines of the address
	// Deliver is given the sheet before it is stored; a sheet that it refuses is
	// not stored. It may be nil.
	Deliver func(papers.BatchSheet) error
}

// A Batch is a recipe made up for an amount: the sheet to weigh from.
type Batch struct {
	Batch  string `json:"batch"`
	Recipe string `json:"recipe"`
	Resin  string `json:"resin"`
	Target string `json:"target,omitempty"`
	Client string `json:"client,omitempty"`
	batch.Sheet
	Part     *batch.Part   `json:"part,omitempty" doc:"volume of one, where it was weighed"`
	Smallest *batch.Sizes  `json:"smallest,omitempty" doc:"the batch may be made"`
	Rescue   *batch.Rescue `json:"rescue,omitempty" doc:"of what was overshot, where lines are in the cup"`

	Paper   papers.BatchSheet `json:"-"`
	Remarks Remarks           `json:"-"`
}

// MakeBatch makes a recipe up for an amount and keeps the sheet; the same sheet
// again keeps its name. What to expect of it goes by what is known now, not by
// what was when the recipe was found.
func MakeBatch(ctx context.Context, b *Bench, r BatchRequest) (Batch, error) {
	if err := r.weighOn(ctx, b.archive); err != nil {
		return Batch{}, err
	}
	order, part, err := r.order(r.Recipe)
	if err != nil {
		return Batch{}, err
	}
	recipe, err := b.archive.Recipe(ctx, r.Recipe)
	if err != nil {
		return Batch{}, err
	}
	known, err := knowRecipe(ctx, b.archive, recipe)
	if err != nil {
		return Batch{}, err
	}
	v, err := planBatch(ctx, b, recipe, known, r, order)
	if err != nil {
		return Batch{}, err
	}
	v.measured(part)
	if known != nil && known.target != nil {
		for _, note := range known.notes {
			v.Remarks.say("%s", note)
		}
	}
	err = together(ctx, b, &v, func(a *archive.Bench) error {
		return v.keep(ctx, b, a, recipe, r)
	})
	return v, err
}

// planBatch plans a sheet, judged by what is known of the recipe (nil for
// nothing).
func planBatch(ctx context.Context, b *Bench, recipe archive.Recipe, known *knowledge, r BatchRequest, order batch.Order) (Batch, error) {
	v := Batch{Recipe: recipe.ID(), Resin: recipe.Resin, Target: recipe.Target, Client: recipe.Client}
	request, err := r.request(ctx, b.archive, recipe, order)
	if err != nil {
		return v, err
	}
	if known != nil && known.target != nil {
		request.Tolerance = known.target.Within()
		if request.Outcome, err = known.outcome(ctx); err != nil {
			return v, err
		}
	}
	if !r.Neat && !r.NoJars {
		var notes []string
		if request.Jars, notes, err = jarsFor(ctx, b.archive, recipe.Resin, codesOf(recipe)); err != nil {
			return v, err
		}
		for _, note := range notes {
			v.Remarks.say("%s", note)
		}
	}
	if v.Sheet, err = batch.Plan(request); err != nil {
		return v, err
	}
	v.keepLeftOver()
	if r.Smallest && request.Outcome != nil && request.Tolerance > 0 {
		sizes, err := batch.Smallest(b.watched(request))
		if err != nil {
			return v, err
		}
		v.Smallest = &sizes
	}
	if len(r.Poured) > 0 {
		rescue, err := batch.Overshoot(request, v.Sheet, r.Poured)
		if err != nil {
			return v, err
		}
		v.Rescue = &rescue
	}
	return v, nil
}

// weighOn fills in the scale.
func (m *Making) weighOn(ctx context.Context, a *archive.Bench) error {
	return m.fill(ctx, a, usualStep, &m.ScaleGrams, &m.MinWeigh, &m.Capacity)
}

// request is a sheet asked of the batch package, not judged.
func (m Making) request(ctx context.Context, a *archive.Bench, r archive.Recipe, order batch.Order) (batch.Request, error) {
	handling := batch.UsualHandling()
	handling.MaxCup, handling.Container, handling.Headroom = massOf(m.MaxCup), batch.Millilitres(m.ContainerML), m.Headroom
	handling.PourRate, handling.Margin, handling.Shot = m.GramsPerMinute, m.Margin, m.Shot
	handling.Celsius, handling.Halving, handling.People = m.Celsius, m.Halving, m.People
	if m.NoVacuum {
		handling.Degas, handling.Headroom = 0, 0
	}
	request := batch.Request{Recipe: phrs(r.Loadings), Order: order, Handling: handling, Colorants: map[string]batch.Colorant{},
		Scale: batch.Scale{Step: massOf(m.ScaleGrams), Minimum: massOf(m.MinWeigh), Tared: m.Tared, Capacity: massOf(m.Capacity)}}
	if m.Neat {
		request.Dilution = batch.DiluteNever
	}
	resin, err := a.Resin(ctx, r.Resin)
	if err != nil {
		return request, err
	}
	request.Resin = batchResin(resin)
	if m.PotLife > 0 { // timed, at whatever temperature it was
		request.Resin.PotLife, request.Handling.Celsius = m.PotLife, 0
	}
	for code := range r.Loadings {
		p, err := a.Pigment(ctx, code)
		if err != nil {
			return request, err
		}
		c := batch.Colorant{Density: batch.GramsPerML(p.Density)}
		if drop, counted := m.DropGrams[code]; counted {
			c.Drop, c.Scatter = massOf(drop), m.DropScatter
		}
		request.Colorants[code] = c
	}
	for code := range m.DropGrams {
		if _, used := r.Loadings[code]; !used {
			return request, invalid("drops", "%s: recipe %s holds no such pigment; it holds %s", remedy.InputAs("drops", code), r.ID(), figure.Loadings(r.Loadings))
		}
	}
	return request, nil
}

// watched tells of progress while a request is worked on.
func (b *Bench) watched(r batch.Request) batch.Request {
	judge := r.Outcome
	r.Outcome = func(m batch.Mixture) (float64, error) {
		b.step("looking for the smallest batch")
		return judge(m)
	}
	return r
}

// keep stores the sheet and delivers it as a paper. It runs inside Together.
func (v *Batch) keep(ctx context.Context, b *Bench, a *archive.Bench, recipe archive.Recipe, r BatchRequest) error {
	document, err := json.Marshal(v.Sheet)
	if err != nil {
		return err
	}
	k := archive.Batch{Recipe: recipe.Ref, TotalGrams: v.Total.Grams(), ScaleGrams: v.Step.Grams(), Document: document}
	for _, l := range v.Lines {
		k.Lines = append(k.Lines, archive.Line{Item: l.Item, Grams: l.Grams.Grams()})
	}
	if k.Lots, err = lotsInUse(ctx, a, recipe.Resin, codesOf(recipe)); err != nil {
		return err
	}
	if k, err = findOrAddBatch(ctx, a, k); err != nil {
		return err
	}
	v.Batch = k.ID()
	if v.Paper, err = v.paper(ctx, a, recipe, k, b.heading(r.Shop)); err != nil {
		return err
	}
	v.Paper.Order = v.asOrdered(r.Grams)
	if r.Deliver == nil {
		return nil
	}
	return r.Deliver(v.Paper)
}
