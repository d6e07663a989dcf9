package main

import (
	"context"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"masstone/calibrate"
	"masstone/color"
	"masstone/color/readings"
	"masstone/recipes/archive"
	"masstone/recipes/papers"
)

type certificateOptions struct {
	what, client       string
	number, instrument string
	everyLight         bool
	notes              []string
	paper              paperFlags
}

func newCertificateCommand(env *Env) *cobra.Command {
	var o certificateOptions
	cmd := &cobra.Command{
		Use:   "certificate WHAT",
		Short: "Certify to the client how near a part came",
		Long: `Writes the match certificate of a part: readings of target and part, differences
under each light, tolerance and verdict, conditions, lots and dates. WHAT is a pour
(P1), a batch (B1), an approval ("Harbour lamp / housing v2") or a target; of a
target or a batch it is the newest pour that was read.

A part read in another specular mode than the target is brought to the target's by
the surface of the calibration, and the certificate says so; one read in another
geometry or under no light of the target is refused.

` + paperHelp + `

  masstone certificate P1 --out certificate.pdf --shop "Tern Castings"

JSON keys: made, shop, certificate (number), client, target, recipe, batch, pour,
resin, calibration, lots (of, lot), formula, tolerance, axes (limits by axis),
every_light, readings (target and part by light), differences (under, dE, dL, da,
db, dC, dH, words, metamerism), within, measurement (geometry, specular),
instrument, part_readings, target_readings, scatter_dE00, thickness_mm, over,
target_read_on, poured_on, read_on, approved_on, approved_by, notes, find.`,
		Args: needs("WHAT"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.what = args[0]
			return runCertificate(cmd.Context(), env, o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.client, "client", "", "client, where several have a target of this name")
	f.StringVar(&o.number, "number", "", "number of the certificate (else that of the pour)")
	f.StringVar(&o.instrument, "instrument", "", "what it was read with")
	f.BoolVar(&o.everyLight, "every-light", false, "judge under every light, not the main one alone")
	f.StringArrayVar(&o.notes, "note", nil, "remark (may be repeated)")
	o.paper.add(f, "the certificate")
	return cmd
}

func runCertificate(ctx context.Context, env *Env, o certificateOptions) error {
	if err := o.paper.check(env); err != nil {
		return err
	}
	return withBench(ctx, env, func(b *archive.Bench) error {
		subject, err := certified(ctx, b, o)
		if err != nil {
			return err
		}
		paper, err := subject.paper(ctx, b, o, o.paper.heading(env))
		if err != nil {
			return err
		}
		return o.paper.show(env, fmt.Sprintf("certificate of %s for %q%s", subject.cast.pour.ID(), subject.target.Name, forClient(subject.target.Client)), paper)
	})
}

// A partToCertify is a part that was read, and the target it is held against.
type partToCertify struct {
	cast     cast
	target   archive.Target
	approval *archive.Approval
}

var (
	pourName     = regexp.MustCompile(`^[Pp]\d+$`)
	batchName    = regexp.MustCompile(`^[Bb]\d+$`)
	recipeName   = regexp.MustCompile(`^[Rr]\d+$`)
	approvalName = regexp.MustCompile(`^(.+) [Vv](\d+)$`)
)

// certified finds the part that a certificate is asked for.
func certified(ctx context.Context, b *archive.Bench, o certificateOptions) (partToCertify, error) {
	kind, name, client := "", o.what, o.client
	switch {
	case isCode(o.what):
		ref, err := papers.ParseRef(o.what)
		if err != nil {
			return partToCertify{}, misuse{err}
		}
		kind, name = ref.Kind, ref.Names[len(ref.Names)-1]
		if len(ref.Names) > 1 {
			client = firstText(client, ref.Names[0])
		}
	case pourName.MatchString(name):
		kind = papers.PourRef
	case batchName.MatchString(name):
		kind = papers.BatchRef
	}
	switch kind {
	case papers.PourRef:
		c, err := castNamed(ctx, b, name)
		if err != nil {
			return partToCertify{}, err
		}
		return certifiedCast(ctx, b, c)
	case papers.BatchRef:
		k, err := b.Batch(ctx, name)
		if err != nil {
			return partToCertify{}, err
		}
		pours, err := b.PoursOfBatch(ctx, k.Ref)
		if err != nil {
			return partToCertify{}, err
		}
		return newestRead(ctx, b, pours, "batch "+k.ID())
	case "", papers.TargetRef:
		return certifiedTarget(ctx, b, client, name)
	}
	return partToCertify{}, misusef("certificate: %s is a %s; a certificate is of a pour, a batch, an approval or a target", o.what, tidy(kind))
}

// certifiedTarget finds the part of a target or of one of its approvals.
func certifiedTarget(ctx context.Context, b *archive.Bench, client, name string) (partToCertify, error) {
	if m := approvalName.FindStringSubmatch(name); m != nil {
		version, err := strconv.Atoi(m[2])
		if err != nil {
			return partToCertify{}, misusef("%q: the version is out of range", name)
		}
		if _, err := b.Target(ctx, client, name); errors.Is(err, archive.ErrNotFound) {
			return certifiedApproval(ctx, b, client, m[1], version)
		}
	}
	t, err := b.Target(ctx, client, name)
	if err != nil {
		return partToCertify{}, err
	}
	pours, err := b.Pours(ctx, t.Client, t.Name)
	if err != nil {
		return partToCertify{}, err
	}
	return newestRead(ctx, b, pours, fmt.Sprintf("target %q", t.Name))
}

func certifiedApproval(ctx context.Context, b *archive.Bench, client, target string, version int) (partToCertify, error) {
	a, err := b.Approval(ctx, client, target, version)
	if err != nil {
		return partToCertify{}, err
	}
	p, err := b.Provenance(ctx, a)
	if err != nil {
		return partToCertify{}, err
	}
	found, err := newestRead(ctx, b, p.Pours, "approval "+a.Name())
	found.target, found.approval = p.Target, &a
	return found, err
}

// newestRead is the newest of some pours that was read.
func newestRead(ctx context.Context, b *archive.Bench, pours []archive.Pour, of string) (partToCertify, error) {
	for _, p := range slices.Backward(pours) {
		c, err := castOf(ctx, b, p)
		if err != nil {
			return partToCertify{}, err
		}
		if len(c.readings) > 0 {
			return certifiedCast(ctx, b, c)
		}
	}
	return partToCertify{}, fmt.Errorf("%s has no pour that was read; masstone pour add BATCH, then masstone pour read POUR --lab L,a,b", of)
}

func certifiedCast(ctx context.Context, b *archive.Bench, c cast) (partToCertify, error) {
	found := partToCertify{cast: c}
	if len(c.readings) == 0 {
		_, err := c.piece()
		return found, err
	}
	t, err := targetOf(ctx, b, c.recipe)
	if err != nil {
		return found, err
	}
	if t == nil {
		return found, fmt.Errorf("%s is of recipe %s, which is for no target; nothing to certify", c.pour.ID(), c.recipe.ID())
	}
	found.target = *t
	approvals, err := b.Approvals(ctx, t.Client, t.Name)
	if i := slices.IndexFunc(approvals, func(a archive.Approval) bool { return slices.Contains(a.Pours, c.pour.Ref) }); i >= 0 {
		found.approval = &approvals[i]
	}
	return found, err
}

// paper is the certificate.
func (s partToCertify) paper(ctx context.Context, b *archive.Bench, o certificateOptions, h papers.Heading) (papers.Certificate, error) {
	c, t := s.cast, s.target
	read := c.readings[len(c.readings)-1]
	p := papers.Certificate{Heading: h, Number: firstText(o.number, c.pour.ID()), Client: t.Client, Target: t.Name, Recipe: c.recipe.ID(), Batch: c.batch.ID(),
		Pour: c.pour.ID(), Resin: c.recipe.Resin, Formula: color.Formula(t.Formula), Tolerance: t.Tolerance, Axes: t.Limits, EveryLight: o.everyLight,
		Instrument: o.instrument, ThicknessMM: c.recipe.ThicknessMM, Backing: c.recipe.Backing, PouredOn: c.pour.PouredOn, ReadOn: read.ReadOn,
		TargetReadOn: day(t.At)[:10], Notes: slices.Clone(o.notes)}
	if p.Tolerance == 0 && len(p.Axes) == 0 {
		p.Tolerance = 1 // as everywhere where none was given
	}
	for _, l := range c.pour.Lots {
		p.Lots = append(p.Lots, papers.Lot{Of: l.Code, Lot: l.Name})
	}
	if s.approval != nil {
		p.ApprovedBy, p.ApprovedOn = s.approval.By, day(s.approval.At)[:10]
	}
	var err error
	if p.Calibration, err = calibrationName(ctx, b, c.recipe); err != nil {
		return p, err
	}
	part, err := c.piece()
	if err != nil {
		return p, err
	}
	wanted, err := pieceOf(t.Name, t.Readings)
	if err != nil {
		return p, err
	}
	p.Measurement = wanted.Measurement
	alike, done, err := readAlike(ctx, b, c.recipe, part, wanted.Measurement)
	if err != nil {
		return p, fmt.Errorf("%s %w", c.pour.ID(), err)
	}
	if done != "" {
		p.Notes = append(p.Notes, "The part was "+done+".")
	}
	if p.Lights, err = pairs(wanted, alike); err != nil {
		return p, fmt.Errorf("%s %w", c.pour.ID(), err)
	}
	main := p.Lights[0].Part.Under
	p.Readings, p.TargetReadings = max(readingsUnder(part, main), spectraOf(part)), max(readingsUnder(wanted, main), spectraOf(wanted))
	if i := slices.IndexFunc(part.Labs, func(l color.Lab) bool { return l.Under == main }); i >= 0 && p.Readings > 1 {
		p.Scatter = part.Repeat[i].MCDM
	}
	return p, nil
}

// pairs are target and part under the lights they have in common, the target's
// own first; where both have spectra, under daylight, tungsten and a lamp too.
func pairs(target readings.Piece, part calibrate.Reading) ([]papers.Reading, error) {
	wanted, err := readingOf(target)
	if err != nil {
		return nil, err
	}
	var under []color.Condition
	for _, l := range wanted.Labs {
		under = append(under, l.Under)
	}
	more := []color.Lab{}
	if wanted.Spectrum != nil {
		more = append(more, part.Labs...)
		if part.Spectrum != nil {
			for _, c := range calibrate.ThreeLights(color.TenDegree) {
				more = append(more, color.Lab{Under: c})
			}
		}
	}
	for _, l := range more {
		if !slices.Contains(under, l.Under) {
			under = append(under, l.Under)
		}
	}
	var out []papers.Reading
	for _, c := range under {
		a, err := wanted.Under(c)
		if err != nil {
			return nil, err
		}
		b, err := part.Under(c)
		if err != nil {
			return nil, err
		}
		if a != nil && b != nil {
			out = append(out, papers.Reading{Target: *a, Part: *b})
		}
	}
	if len(out) == 0 {
		return nil, fmt.Errorf("was read under %s, its target under %s; read it under a light of the target or as a spectrum", lightNames(part.Labs), lightNames(wanted.Labs))
	}
	return out, nil
}

func lightNames(labs []color.Lab) string {
	var names []string
	for _, l := range labs {
		names = append(names, l.Under.String())
	}
	return firstText(strings.Join(names, ", "), "no light")
}
