package workbench

import (
	"context"
	"errors"
	"fmt"
	"masstone/color/remedy"
	"masstone/recipes/archive"
	"masstone/recipes/batch"
	"masstone/recipes/figure"
	"slices"
	"strings"
)

// resinAt finds the resin a command means: the one named, or the only one.
func resinAt(ctx context.Context, b *archive.Bench, code string) (archive.Resin, error) {
	if code != "" {
		return b.Resin(ctx, code)
	}
	resins, err := b.Resins(ctx)
	switch {
	case err != nil:
		return archive.Resin{}, err
	case len(resins) == 1:
		return resins[0], nil
	case len(resins) == 0:
		return archive.Resin{}, &Error{NotFound, "resin", fmt.Errorf("no resin on this bench; add one with %s", remedy.Verb("resin add"))}
	}
	var codes []string
	for _, r := range resins {
		codes = append(codes, r.Code)
	}
	return archive.Resin{}, invalid("resin", "which resin? say %s with one of %s", remedy.Input("resin"), figure.List(codes))
}

// pigmentCodes lists the codes of the shelf.
func pigmentCodes(ctx context.Context, b *archive.Bench) ([]string, error) {
	pigments, err := b.Pigments(ctx)
	codes := make([]string, len(pigments))
	for i, p := range pigments {
		codes[i] = p.Code
	}
	return codes, err
}

// pigmentNames are the plain names of the pigments by code.
func pigmentNames(ctx context.Context, b *archive.Bench) (map[string]string, error) {
	pigments, err := b.Pigments(ctx)
	names := map[string]string{}
	for _, p := range pigments {
		names[p.Code] = p.Name
	}
	return names, err
}

// itemOf tells whether a code is that of a pigment or of a resin.
func itemOf(ctx context.Context, b *archive.Bench, code string) (string, error) {
	resins, err := b.Resins(ctx)
	if err != nil {
		return "", err
	}
	pigments, err := pigmentCodes(ctx, b)
	if err != nil {
		return "", err
	}
	isResin := slices.ContainsFunc(resins, func(r archive.Resin) bool { return r.Code == code })
	switch isPigment := slices.Contains(pigments, code); {
	case isPigment && isResin:
		return "", fmt.Errorf("%s is the code of a pigment and of a resin; replace one of the two cards by one of another code", code)
	case isPigment:
		return archive.OfPigment, nil
	case isResin:
		return archive.OfResin, nil
	}
	var all []string
	for _, r := range resins {
		all = append(all, r.Code)
	}
	return "", &Error{NotFound, "code", &archive.UnknownName{Name: code, Err: fmt.Errorf("unknown pigment or resin %q; the bench has %s", code, figure.List(append(pigments, all...)))}}
}

func mixOf(r archive.Resin) batch.Ratio { return batch.Ratio{A: r.MixA, B: r.MixB} }

// batchResin is a resin's card for the batch package.
func batchResin(r archive.Resin) batch.Resin {
	return batch.Resin{Mix: mixOf(r), DensityA: batch.GramsPerML(r.DensityA), DensityB: batch.GramsPerML(r.DensityB),
		PotLife: r.PotLife, PigmentSide: batch.Side(r.PigmentSide), MaxPHR: batch.PHR(r.MaxPHR)}
}

// onChange says what --replace means to the archive.
func onChange(replace bool) archive.OnChange {
	if replace {
		return archive.Replace
	}
	return archive.Refuse
}

// advise adds what to do to the refusal of a card that says something else.
func advise(err error, what string) error {
	if !errors.Is(err, archive.ErrConflict) {
		return err
	}
	between := "; "
	if strings.Contains(err.Error(), "\n") {
		between = "\n" // several cards, a line each
	}
	return fmt.Errorf("%w%s%s; nothing was changed", err, between, what)
}

// outcomes are those of a report by name.
func outcomes(r archive.Report) map[string]archive.Outcome {
	out := map[string]archive.Outcome{}
	for outcome, names := range map[archive.Outcome][]string{archive.Added: r.Added, archive.Changed: r.Changed, archive.Unchanged: r.Unchanged} {
		for _, n := range names {
			out[n] = outcome
		}
	}
	return out
}

func mixText(r archive.Resin) string {
	text := fmt.Sprintf("%s by mass", mixOf(r))
	if r.PotLife > 0 {
		text += ", pot life " + figure.Duration(r.PotLife)
	}
	return text
}
