package workbench

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"strings"

	"masstone/calibrate"
	"masstone/color"
	"masstone/color/readings"
	"masstone/color/remedy"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
)

// An AddScaleRequest adds a scale, or replaces its card. A number that is 0 is not
// known.
type AddScaleRequest struct {
	Name                         string
	StepGrams, MaxGrams, SDGrams calibrate.Grams // smallest change it shows, most it carries, sd of one weighing
	Use                          bool            // from now on; the first is in any case
	Note                         string
	Replace                      bool
	Seen                         string // Ref of the card this was made from; "" does not check
}

// An AddInstrumentRequest adds an instrument, or replaces its card.
type AddInstrumentRequest struct {
	Name        string
	Measurement color.Measurement
	Condition   color.Condition // of the Lab it shows
	ApertureMM  float64         // diameter
	MCondition  string          // M0 to M3 of ISO 13655, its UV
	RepeatSD    float64         // of one reading, in each of L*, a*, b*
	Use         bool
	Note        string
	Replace     bool
	Seen        string
}

// Equipment is a scale or an instrument.
type Equipment struct {
	Item       string         `json:"item" doc:"scale or instrument"`
	Name       string         `json:"name"`
	InUse      bool           `json:"in_use" doc:"taken where nothing else is said"`
	StepGrams  *figure.Number `json:"step_g,omitempty"`
	MaxGrams   *figure.Number `json:"max_g,omitempty" doc:"it carries"`
	SDGrams    *figure.Number `json:"sd_g,omitempty" doc:"of one weighing"`
	Geometry   string         `json:"geometry,omitempty"`
	Specular   string         `json:"specular,omitempty"`
	ApertureMM *figure.Number `json:"aperture_mm,omitempty" doc:"its diameter"`
	MCondition string         `json:"m_condition,omitempty" doc:"of ISO 13655"`
	Illuminant string         `json:"illuminant,omitempty"`
	Observer   int            `json:"observer,omitempty" doc:"degrees"`
	RepeatSD   *figure.Number `json:"repeat_sd,omitempty" doc:"of one reading, in each of L*, a*, b*"`
	Note       string         `json:"note,omitempty"`

	Ref string `json:"-"` // of the card
}

// Text is what is known of a scale or an instrument, in a line.
func (e Equipment) Text() string {
	var parts []string
	add := func(format string, n *figure.Number) {
		if n != nil {
			parts = append(parts, fmt.Sprintf(format, figure.Short(float64(*n))))
		}
	}
	add("shows %s g", e.StepGrams)
	add("carries %s g", e.MaxGrams)
	add("repeats to %s g", e.SDGrams)
	if e.Geometry != "" {
		parts = append(parts, e.Geometry+", specular "+e.Specular)
	}
	add("aperture %s mm", e.ApertureMM)
	if e.MCondition != "" {
		parts = append(parts, e.MCondition)
	}
	if e.Illuminant != "" {
		parts = append(parts, fmt.Sprintf("%s/%d", e.Illuminant, e.Observer))
	}
	add("repeats to %s", e.RepeatSD)
	return strings.Join(parts, ", ")
}

// An EquipmentOutcome is a scale or an instrument, and what was done to its card.
type EquipmentOutcome struct {
	Outcome string `json:"outcome" doc:"added, unchanged, changed"`
	Equipment
}

// An EquipmentList is the scales or the instruments, the one in use first.
type EquipmentList struct {
	Equipment []Equipment `json:"equipment" as:"scale add"`
}

func equipmentOf(e archive.Equipment) Equipment {
	return Equipment{Item: e.Item, Name: e.Name, InUse: e.InUse, StepGrams: figure.Known(e.StepGrams), MaxGrams: figure.Known(e.MaxGrams), SDGrams: figure.Known(e.SDGrams),
		Geometry: e.Geometry, Specular: e.Specular, ApertureMM: figure.Known(e.ApertureMM), MCondition: e.MCondition, Illuminant: e.Illuminant, Observer: e.Observer,
		RepeatSD: figure.Known(e.RepeatSD), Note: e.Note, Ref: e.Ref}
}

// AddScale adds a scale.
func AddScale(ctx context.Context, b *Bench, r AddScaleRequest) (EquipmentOutcome, error) {
	if r.StepGrams == 0 {
		return EquipmentOutcome{}, missing("scale "+r.Name, "step", "give the smallest change it shows", "0.01g")
	}
	if err := weighable(weight{"step", r.StepGrams}, weight{"max", r.MaxGrams}, weight{"sd", r.SDGrams}); err != nil {
		return EquipmentOutcome{}, err
	}
	return addEquipment(ctx, b, archive.Equipment{Item: archive.Scale, Name: r.Name, InUse: r.Use, StepGrams: float64(r.StepGrams), MaxGrams: float64(r.MaxGrams), SDGrams: float64(r.SDGrams), Note: r.Note}, r.Replace, r.Seen)
}

// AddInstrument adds an instrument.
func AddInstrument(ctx context.Context, b *Bench, r AddInstrumentRequest) (EquipmentOutcome, error) {
	how, err := checkedWay(r.Measurement)
	if err != nil {
		return EquipmentOutcome{}, err
	}
	switch {
	case r.Condition.Illuminant != "":
		r.Condition = usualObserver(r.Condition)
	case r.Condition.Observer != 0:
		return EquipmentOutcome{}, invalid("observer", "%s: goes with a light; add %s", remedy.InputAs("observer", fmt.Sprint(r.Condition.Observer)), remedy.InputAs("illuminant", "D65"))
	}
	return addEquipment(ctx, b, archive.Equipment{Item: archive.Instrument, Name: r.Name, InUse: r.Use, Geometry: string(how.Geometry), Specular: string(how.Specular), ApertureMM: r.ApertureMM,
		MCondition: r.MCondition, Illuminant: string(r.Condition.Illuminant), Observer: int(r.Condition.Observer), RepeatSD: r.RepeatSD, Note: r.Note}, r.Replace, r.Seen)
}

func addEquipment(ctx context.Context, b *Bench, e archive.Equipment, replace bool, seen string) (EquipmentOutcome, error) {
	var v EquipmentOutcome
	err := together(ctx, b, &v, func(a *archive.Bench) error {
		e := e
		all, err := a.Equipment(ctx, e.Item)
		if err != nil {
			return err
		}
		for _, old := range all {
			if old.Name != e.Name {
				continue
			}
			if err := checkSeen(e.Item+" "+e.Name, seen, old.Stamp); err != nil {
				return err
			}
			e.InUse = e.InUse || old.InUse
		}
		e.InUse = e.InUse || len(all) == 0
		outcome, err := a.PutEquipment(ctx, e, onChange(replace))
		v = EquipmentOutcome{string(outcome), equipmentOf(e)}
		return advise(err, fmt.Sprintf("add %s to replace the card", remedy.Input("replace")))
	})
	return v, err
}

// UseEquipment says which scale or which instrument is in use from now on.
func UseEquipment(ctx context.Context, b *Bench, item, name string) (EquipmentOutcome, error) {
	var v EquipmentOutcome
	err := together(ctx, b, &v, func(a *archive.Bench) error {
		e, err := a.EquipmentNamed(ctx, item, name)
		if err != nil {
			return err
		}
		e.InUse = true
		outcome, err := a.PutEquipment(ctx, e, archive.Replace)
		v = EquipmentOutcome{string(outcome), equipmentOf(e)}
		return err
	})
	return v, err
}

// AllEquipment lists the scales or the instruments.
func AllEquipment(ctx context.Context, b *Bench, item string) (EquipmentList, error) {
	v := EquipmentList{Equipment: []Equipment{}}
	all, err := b.archive.Equipment(ctx, item)
	for _, e := range all {
		v.Equipment = append(v.Equipment, equipmentOf(e))
	}
	return v, err
}

// equipmentFor is what a request goes by: what it names, or else what is in use;
// empty where there is nothing.
func equipmentFor(ctx context.Context, a *archive.Bench, item, name string) (archive.Equipment, error) {
	if name != "" {
		return a.EquipmentNamed(ctx, item, name)
	}
	all, err := a.Equipment(ctx, item)
	if err != nil || len(all) == 0 || !all[0].InUse {
		return archive.Equipment{}, err
	}
	return all[0], nil
}

// A ScaleChoice is the scale that a request is weighed on where it gives no step.
type ScaleChoice struct {
	Scale string // by its name; the one in use if empty
}

// fill gives the step of the scale, and the least line worth weighing and the most it
// carries where the request leaves them open; the usual step where no scale is known.
// A scale that repeats worse than its step shows has a larger least line: ten steps of
// as wide a scatter, as ten steps are without (common practice, no source).
func (c ScaleChoice) fill(ctx context.Context, a *archive.Bench, usual float64, step, least, most *calibrate.Grams) error {
	if c.Scale == "" && *step != 0 {
		return nil
	}
	e, err := equipmentFor(ctx, a, archive.Scale, c.Scale)
	if errors.Is(err, archive.ErrNotFound) {
		return invalid("scale", "%s: %w; or give its step, such as %s", remedy.InputAs("scale", c.Scale), err, remedy.InputAs("scale", "0.01g"))
	}
	if err != nil {
		return err
	}
	*step = calibrate.Grams(cmp.Or(e.StepGrams, usual))
	if wide := e.SDGrams * math.Sqrt(12); least != nil && *least == 0 && wide > e.StepGrams {
		*least = calibrate.Grams(10 * wide)
	}
	if most != nil && *most == 0 {
		*most = calibrate.Grams(e.MaxGrams)
	}
	return nil
}

// read fills in what is left open of how typed readings were taken: by the
// instrument named, or else the one in use. It says under which light.
func (r *Readings) read(e archive.Equipment, say *Remarks) {
	if e.Name == "" || r.File != nil {
		return
	}
	byInstrument(e, &r.Condition, &r.Measurement)
	r.circumstances = circumstancesOf(e)
	if e.Illuminant != "" && say != nil {
		say.say("read by %s: %s", e.Name, usualObserver(r.Condition))
	}
}

// byInstrument fills in what is left open of light and way by an instrument.
func byInstrument(e archive.Equipment, under *color.Condition, how *color.Measurement) {
	if under.Illuminant == "" && e.Illuminant != "" {
		under.Illuminant = color.Illuminant(e.Illuminant)
		under.Observer = cmp.Or(under.Observer, color.Observer(e.Observer))
	}
	if how.Geometry == "" && how.Specular == "" {
		how.Geometry, how.Specular = color.Geometry(e.Geometry), color.Specular(e.Specular)
	}
}

// circumstancesOf is what an instrument says of a reading beside its colour.
func circumstancesOf(e archive.Equipment) readings.Circumstances {
	c := readings.Circumstances{Instrument: e.Name, Mode: e.MCondition}
	if e.ApertureMM > 0 {
		c.Aperture = apertureText(e.ApertureMM)
	}
	return c
}
