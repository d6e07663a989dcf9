package workbench

import (
	"context"
	"fmt"
	"slices"

	"masstone/calibrate"
	"masstone/color"
	"masstone/color/remedy"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
	"masstone/recipes/papers"
)

// A LabelsRequest asks for labels: of chips or of jars.
type LabelsRequest struct {
	Resin   string   // of chips
	Only    []string // chips by name, jars by pigment code; all if empty
	Heading papers.Heading
	Skip    int               // places already used on the first sheet
	Cut     bool              // draw lines to cut plain paper along
	Each    *papers.LabelSize // of one label to cut out; a usual sheet of labels if nil
}

func (r LabelsRequest) check() error {
	if r.Skip < 0 {
		return outOfRange("skip", r.Skip, "0 or more")
	}
	return nil
}

// wants tells whether a label of that name is asked for.
func (r LabelsRequest) wants(name string) bool {
	return len(r.Only) == 0 || slices.Contains(r.Only, name)
}

func (r LabelsRequest) sheet() papers.Labels {
	return papers.Labels{Heading: r.Heading, Skip: r.Skip, Cut: r.Cut, Each: r.Each}
}

// ChipLabels are labels for the chips of a resin that are on the bench, each
// with its colour.
func ChipLabels(ctx context.Context, b *Bench, r LabelsRequest) (papers.Labels, error) {
	out := r.sheet()
	if err := r.check(); err != nil {
		return out, err
	}
	chips, err := b.archive.Chips(ctx, r.Resin)
	if err != nil {
		return out, err
	}
	for _, name := range r.Only {
		if !slices.ContainsFunc(chips, func(c archive.Chip) bool { return c.Name == name }) {
			return out, &Error{NotFound, "chip", &archive.UnknownName{Name: name, Err: fmt.Errorf("no chip %q of %s; %s shows them", name, r.Resin, remedy.Verb("chip list", remedy.InputAs("resin", r.Resin)))}}
		}
	}
	if len(chips) == 0 {
		return out, &Error{NotFound, "", fmt.Errorf("no chip of %s yet; %s says which to cast", r.Resin, remedy.Verb("plan start", r.Resin))}
	}
	names, err := pigmentNames(ctx, b.archive)
	if err != nil {
		return out, err
	}
	for _, c := range chips {
		if !r.wants(c.Name) {
			continue
		}
		l, err := chipLabel(c, names)
		if err != nil {
			return out, err
		}
		out.Labels = append(out.Labels, l)
	}
	return out, nil
}

// chipLabel is the label of a chip that was read.
func chipLabel(c archive.Chip, names map[string]string) (papers.Label, error) {
	l := papers.Label{Code: c.Name, Name: fmt.Sprintf("%s, %s mm, over %s", c.Resin, figure.Short(c.ThicknessMM), c.Backing), Find: papers.RefTo(papers.ChipRef, c.Resin, c.Name)}
	for _, code := range figure.ByLoading(c.Loadings) {
		line := fmt.Sprintf("%s %.4g phr", code, c.Loadings[code])
		if names[code] != "" {
			line += " " + names[code]
		}
		l.Lines = append(l.Lines, line)
	}
	piece, err := pieceOf(c.Name, c.Readings)
	if err != nil {
		return l, err
	}
	r, err := readingOf(piece)
	if err != nil {
		return l, err
	}
	l.Lab, err = r.Under(color.D65Ten())
	if l.Lab == nil && len(r.Labs) > 0 {
		l.Lab = &r.Labs[0]
	}
	return l, err
}

// JarLabels are labels for the jars of paste on the shelf, each with the lot in
// use.
func JarLabels(ctx context.Context, b *Bench, r LabelsRequest) (papers.Labels, error) {
	out := r.sheet()
	if err := r.check(); err != nil {
		return out, err
	}
	for _, code := range r.Only {
		if _, err := b.archive.Pigment(ctx, code); err != nil {
			return out, err
		}
	}
	pigments, err := b.archive.Pigments(ctx)
	if err != nil {
		return out, err
	}
	if len(pigments) == 0 {
		return out, &Error{NotFound, "", fmt.Errorf("no pigment yet; %s", remedy.Verb("pigment import", "FILE"))}
	}
	opened, err := b.archive.OpenedLots(ctx)
	if err != nil {
		return out, err
	}
	for _, p := range pigments {
		if !r.wants(p.Code) {
			continue
		}
		lot := ""
		for _, l := range opened {
			if l.Item == archive.OfPigment && l.Code == p.Code {
				lot = l.Lot
			}
		}
		out.Labels = append(out.Labels, papers.JarLabel(p.Code, p.Name, p.CIName, lot, p.Density, calibrate.PHR(p.MaxPHR)))
	}
	return out, nil
}
