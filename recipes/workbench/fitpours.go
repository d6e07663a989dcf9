package workbench

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"slices"

	"masstone/calibrate"
	"masstone/color"
	"masstone/recipes"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
)

// A pouredChip is a pour as a fit takes it: a casting like any chip.
type pouredChip struct {
	pour   archive.Pour
	recipe string // Ref
	chip   calibrate.Chip
	still  change // that a part read young is expected to change by
}

// A LeftPour is a pour that a fit did not take.
type LeftPour struct {
	Pour string `json:"pour"`
	Why  string `json:"why"`
}

// A FittedPours is what the read pours of the resin did to a fit. The reports of
// those counted are not kept with the calibration: they are of clients.
type FittedPours struct {
	Counted []FittedChip `json:"counted" doc:"as chips are, by the pour's number"`
	LeftOut []LeftPour   `json:"left_out"`
	Young   *YoungPours  `json:"young,omitempty" doc:"those counted that were read before they were settled"`
	// Before and what follows are left out where nothing was calibrated before, or
	// no pour counts that it was not fitted from.
	Before   string         `json:"before,omitempty" doc:"the newest calibration until now"`
	New      int            `json:"new,omitempty" doc:"how many of those counted it was not fitted from; what follows is of these"`
	BeforeDE *figure.Number `json:"before_dE00,omitempty" doc:"mean difference of their readings from what it says of them"`
	LeftDE   *figure.Number `json:"now_dE00,omitempty" doc:"the same of this one, each left out of the fit"`
	Moved    *figure.Number `json:"moved_dE00,omitempty" doc:"mean difference between what the two say of their mixtures"`
	Expected *figure.Number `json:"before_expected_dE00,omitempty" doc:"mean expected difference of these mixtures, by the one before"`
	Now      *figure.Number `json:"now_expected_dE00,omitempty" doc:"and by this one"`
}

// A YoungPours is what pours that were read young count as: as their parts are expected
// to be once settled.
type YoungPours struct {
	Pours  int           `json:"pours"`
	SD     figure.Number `json:"sd" doc:"how far L*, a*, b* of one may lie from that, on average"`
	Counts figure.Number `json:"counts_sd" doc:"the same with what all of them share so much wider that together they tell it once"`
	Parts  int           `json:"parts" doc:"how many parts taught how the resin's change"`
	Source string        `json:"source"`
}

// pours are those of the resin that can stand beside its chips: as weighed, in the
// part's own setting, of the lots that the chips are of, read as the chips were.
// What cannot is named with the reason.
func (in *fitted) addPours(ctx context.Context, a *archive.Bench, resin string) error {
	all, err := a.PoursOfResin(ctx, resin)
	if err != nil {
		return err
	}
	if len(all) == 0 {
		return nil
	}
	f := pourFilter{in: in, drifts: drifts{}}
	if f.backings, err = backingsOn(ctx, a); err != nil {
		return err
	}
	f.lots = []archive.LotName{{Item: archive.OfResin, Code: resin}}
	for _, code := range in.pigments {
		f.lots = append(f.lots, pigmentLot(code, ""))
	}
	for i := range f.lots {
		l := &f.lots[i]
		if l.Name, _, err = lotOfChips(ctx, a, in.cards, l.Item, l.Code); err != nil {
			return err
		}
	}
	for _, p := range all {
		chip, why, err := f.chipOf(ctx, a, p)
		if err != nil {
			return err
		}
		if why != "" {
			in.without = append(in.without, LeftPour{p.ID(), why})
			continue
		}
		in.pours = append(in.pours, chip)
	}
	in.keepPours(mostPours)
	return nil
}

// settle takes pours that were read young for what they are expected to be once settled.
// What is not known of their resin's drift they share, so n of them tell no more of it
// than one: its variance counts n times in each.
func (in *fitted) settle() (err error) {
	var young []*pouredChip
	for i := range in.pours {
		if in.pours[i].still.hours > 0 {
			young = append(young, &in.pours[i])
		}
	}
	n := len(young)
	if n == 0 {
		return nil
	}
	var of, counts float64
	for _, p := range young {
		sd := recipes.OpenSD(n, p.still.cov, p.still.alike)
		if p.chip, err = p.chip.Changed(p.still.by, sd); err != nil {
			return err
		}
		of, counts = of+recipes.OpenSD(1, p.still.cov, p.still.alike)/float64(n), counts+sd/float64(n)
	}
	parts := young[0].still.parts
	in.young = &YoungPours{Pours: n, SD: figure.Number(of), Counts: figure.Number(counts), Parts: parts, Source: driftSource(parts)}
	return nil
}

// mostPours are as many as a fit hears: its time goes with the square of the
// castings and more, 100 take 20 s on two cores.
const mostPours = 100

// keepPours keeps the newest pour of every recipe, then the one before it of every
// recipe, and so on up to most: other mixtures teach more than the same again.
func (in *fitted) keepPours(most int) {
	if len(in.pours) <= most {
		return
	}
	nth := map[string]int{} // pours of a recipe seen, from the newest on
	rank := map[string]int{}
	for _, p := range slices.Backward(in.pours) {
		rank[p.pour.Ref] = nth[p.recipe]
		nth[p.recipe]++
	}
	order := slices.Clone(in.pours)
	slices.SortFunc(order, func(x, y pouredChip) int {
		return cmp.Or(cmp.Compare(rank[x.pour.Ref], rank[y.pour.Ref]), cmp.Compare(y.pour.Number, x.pour.Number))
	})
	keep := map[string]bool{}
	for _, p := range order[:most] {
		keep[p.pour.Ref] = true
	}
	var kept []pouredChip
	for _, p := range in.pours {
		if keep[p.pour.Ref] {
			kept = append(kept, p)
			continue
		}
		in.without = append(in.without, LeftPour{p.pour.ID(), fmt.Sprintf("the newest of each recipe count, %d in all", most)})
	}
	in.pours = kept
}

// A pourFilter turns pours into chips, or says why not.
type pourFilter struct {
	in       *fitted
	lots     []archive.LotName // that the chips are of
	backings map[string]color.Reflectance
	drifts   drifts
}

func (f pourFilter) chipOf(ctx context.Context, a *archive.Bench, p archive.Pour) (out pouredChip, why string, err error) {
	c, err := castOf(ctx, a, p)
	if err != nil {
		return out, "", err
	}
	out = pouredChip{pour: p, recipe: c.recipe.Ref}
	if out.chip, why, err = f.chip(ctx, a, c); err != nil || why != "" {
		return out, why, err
	}
	counted, err := c.counted()
	if err != nil {
		return out, "", err
	}
	out.still, err = f.drifts.change(ctx, a, c.recipe.Resin, counted...)
	return out, "", err
}

func (f pourFilter) chip(ctx context.Context, a *archive.Bench, c cast) (chip calibrate.Chip, why string, err error) {
	p := c.pour
	if len(c.readings) == 0 {
		return chip, "it was not read", nil
	}
	loadings, err := c.contents.Loadings()
	if err != nil {
		return chip, "what was weighed is no mixture", nil
	}
	r := c.recipe
	if why := f.otherLot(p, archive.OfResin, r.Resin); why != "" {
		return chip, why, nil
	}
	for _, code := range slices.Sorted(maps.Keys(loadings)) {
		if loadings[code] <= 0 {
			delete(loadings, code)
			continue
		}
		if !slices.Contains(f.in.pigments, code) {
			return chip, fmt.Sprintf("no chip holds %s", code), nil
		}
		if why := f.otherLot(p, archive.OfPigment, code); why != "" {
			return chip, why, nil
		}
	}
	backing, known := f.backings[r.Backing]
	switch {
	case r.ThicknessMM == 0:
		return chip, "nobody said how thick the part is", nil
	case !known:
		return chip, "nobody said what lay under the part", nil
	}
	counted, err := c.counted()
	if err != nil {
		return chip, "", err
	}
	if slices.ContainsFunc(counted, func(r archive.PourReading) bool { return r.Companion }) {
		return chip, "a chip from the same cup was read in its place, and nobody said how thick that is", nil
	}
	piece, err := c.piece()
	if err != nil {
		return chip, "", err
	}
	t, err := targetOf(ctx, a, r)
	if err != nil {
		return chip, "", err
	}
	for _, r := range counted {
		if why := otherWarmth(r, t); why != "" {
			return chip, why, nil
		}
	}
	flat := counted[0].FlatMM // of the newest
	if flat == 0 && t != nil {
		flat = t.FlatMM
	}
	if small := (Spot{FlatMM: flat}).tooSmall(piece); small != "" {
		return chip, small, nil
	}
	if signs, err := piece.Signs(); err != nil {
		return chip, "", err
	} else if len(signs) > 0 {
		return chip, saying(signs), nil
	}
	chip = calibrate.Chip{Name: p.ID(), Part: p.ID(), Loadings: loadings, Thickness: calibrate.ThicknessMM(r.ThicknessMM), BackingName: r.Backing, Backing: backing,
		Measurement: piece.Measurement, Labs: piece.Labs, Aperture: apertureOf(piece.Circumstances),
		ChipGrams: calibrate.Grams(c.contents.Resin()), ScaleGrams: calibrate.Grams(c.batch.ScaleGrams), PasteStrength: c.contents.Strength}
	if chip.ThicknessSD, err = c.thicknessSD(ctx, a); err != nil {
		return chip, "", err
	}
	if chip.Casting, err = c.casting(ctx, a); err != nil { // what comes out of one pot was weighed once
		return chip, "", err
	}
	if chip.Spectrum, err = bandsOf(piece); err != nil {
		return chip, "", err
	}
	if chip.Check() != nil {
		return chip, "its reading is of no part like the chips", nil
	}
	why, err = f.readAsChips(&chip)
	return chip, why, err
}

// otherLot says that a pour was of another lot than the chips; empty where it was of
// theirs, or nobody named its lot.
func (f pourFilter) otherLot(p archive.Pour, item, code string) string {
	lot, chips := lotOf(p.Lots, item, code), lotOf(f.lots, item, code)
	switch {
	case lot == "" || lot == chips:
		return ""
	case chips == "":
		return fmt.Sprintf("it was poured with %s lot %s, and nobody said of which lot the chips are", code, lot)
	}
	return fmt.Sprintf("it was poured with %s lot %s, the chips are of lot %s", code, lot, chips)
}

// readAsChips keeps of a pour's reading what the chips were read of too: one light
// more, of pours alone, would pass for a light that the calibration knows.
func (f pourFilter) readAsChips(chip *calibrate.Chip) (why string, err error) {
	spectra := false
	var lights []color.Condition
	for _, k := range f.in.chips {
		if g := k.Measurement.Geometry; g != "" && chip.Measurement.Geometry != "" && g != chip.Measurement.Geometry {
			return fmt.Sprintf("it was read in %s, the chips in %s", chip.Measurement.Geometry, g), nil
		}
		spectra = spectra || k.Spectrum != nil
		for _, lab := range k.Labs {
			if !slices.Contains(lights, lab.Under) {
				lights = append(lights, lab.Under)
			}
		}
	}
	if spectra {
		return "", nil
	}
	if chip.Labs, err = chip.Under(lights); err != nil {
		return "", err
	}
	chip.Spectrum = nil
	if len(chip.Labs) == 0 {
		return "it was read under no light that the chips were", nil
	}
	return "", nil
}

// chipsAndPours are what the fit hears.
func (in *fitted) chipsAndPours() []calibrate.Chip {
	all := slices.Clone(in.chips)
	for _, p := range in.pours {
		all = append(all, p.chip)
	}
	return all
}

// refs are those of the pours.
func (in *fitted) refs() []string {
	var out []string
	for _, p := range in.pours {
		out = append(out, p.pour.Ref)
	}
	return out
}

// changed says what the pours counted did, against the newest calibration.
func (in *fitted) changed(ctx context.Context, a *archive.Bench, resin string, cal *calibrate.Calibration) (FittedPours, error) {
	v := FittedPours{Counted: []FittedChip{}, LeftOut: append([]LeftPour{}, in.without...), Young: in.young}
	reports := cal.Chips[len(in.chips):]
	for i, c := range reports {
		v.Counted = append(v.Counted, fittedChip(c, in.pours[i].chip))
	}
	known, err := a.Calibrations(ctx, resin)
	if err != nil || len(known) == 0 || len(in.pours) == 0 {
		return v, err
	}
	stored, before, err := calibrationOn(ctx, a, resin, 0)
	if err != nil {
		return v, err
	}
	var n, wasOff, isOff, moved, was, is float64
	for i, p := range in.pours {
		if stored.FittedFrom(p.pour) { // it has read that one
			continue
		}
		if slices.ContainsFunc(slices.Collect(maps.Keys(p.chip.Loadings)), func(code string) bool { return before.Index(code) == 0 }) {
			continue
		}
		sample := p.chip.Sample()
		under := reports[i].Measured.Under
		old, err := before.Predict(sample, under)
		if err != nil {
			return v, err
		}
		now, err := cal.Predict(sample, under)
		if err != nil {
			return v, err
		}
		off, err := old.Colors[0].Lab.DeltaE00(reports[i].Measured)
		if err != nil {
			return v, err
		}
		by, err := old.Colors[0].Lab.DeltaE00(now.Colors[0].Lab)
		if err != nil {
			return v, err
		}
		n++
		wasOff, isOff, moved = wasOff+off, isOff+reports[i].LeftDE00, moved+by
		was, is = was+old.Colors[0].Expected, is+now.Colors[0].Expected
	}
	if n > 0 {
		v.Before, v.New = stored.Name(), int(n)
		v.BeforeDE, v.LeftDE, v.Moved = figure.Of(wasOff/n), figure.Of(isOff/n), figure.Of(moved/n)
		v.Expected, v.Now = figure.Of(was/n), figure.Of(is/n)
	}
	return v, nil
}
