package workbench

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"masstone/calibrate"
	"masstone/color"
	"masstone/color/readings"
	"masstone/color/remedy"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
	"masstone/recipes/papers"
)

// A CertificateRequest asks for the match certificate of a part.
type CertificateRequest struct {
	// What is a pour, batch, approval ("Harbour lamp / housing v2") or target,
	// or a code of one; of a target or a batch the newest pour that was read is
	// certified.
	What       string
	Client     string // where several have a target of this name
	Number     string // of the certificate; that of the pour if empty
	Instrument string // it was read with
	EveryLight bool   // judge under every light, not the main one alone
	Notes      []string
	Shop       []string // who made it: name, then lines of the address
}

// Certificate is the match certificate of a part. One read in another specular
// mode than the target is brought to the target's by the surface of the
// calibration, and the certificate says so.
func Certificate(ctx context.Context, b *Bench, r CertificateRequest) (papers.Certificate, error) {
	part, err := r.find(ctx, b.archive)
	if err != nil {
		return papers.Certificate{}, err
	}
	if of := part.cast.recipe.Client; r.Client != "" && !strings.EqualFold(r.Client, of) {
		return papers.Certificate{}, invalid("client", "%s is for %s, not for %q; leave %s out, or name what is certified for that client", part.cast.pour.ID(), cmp.Or(of, "no client"), r.Client, remedy.Input("client"))
	}
	return part.certificate(ctx, b.archive, r, b.heading(r.Shop))
}

// A partToCertify is a part that was read, and the target it is held against.
type partToCertify struct {
	cast     cast
	target   archive.Target
	approval *archive.Approval
}

// find finds the part that a certificate is asked for.
func (r CertificateRequest) find(ctx context.Context, a *archive.Bench) (partToCertify, error) {
	what := Lookup{Name: r.What, Within: r.Client}
	switch {
	case papers.IsRef(r.What):
		var err error
		if what, err = lookedUp(LookupRequest{What: r.What, Client: r.Client}); err != nil {
			return partToCertify{}, err
		}
	case pourName.MatchString(r.What):
		what.Kind = papers.PourRef
	case batchName.MatchString(r.What):
		what.Kind = papers.BatchRef
	}
	switch what.Kind {
	case papers.PourRef:
		c, err := castNamed(ctx, a, what.Name)
		if err != nil {
			return partToCertify{}, err
		}
		return certifiedCast(ctx, a, c)
	case papers.BatchRef:
		k, err := a.Batch(ctx, what.Name)
		if err != nil {
			return partToCertify{}, err
		}
		pours, err := a.PoursOfBatch(ctx, k.Ref)
		if err != nil {
			return partToCertify{}, err
		}
		c, err := newestRead(ctx, a, pours, "batch "+k.ID())
		if err != nil {
			return partToCertify{}, err
		}
		return certifiedCast(ctx, a, c)
	case "", papers.TargetRef:
		return certifiedTarget(ctx, a, what.Within, what.Name)
	}
	return partToCertify{}, invalid("what", "certificate: %s is a %s; a certificate is of a pour, a batch, an approval or a target", r.What, what.Kind)
}

// certifiedTarget finds the part of a target or of one of its approvals.
func certifiedTarget(ctx context.Context, a *archive.Bench, client, name string) (partToCertify, error) {
	if m := approvalName.FindStringSubmatch(name); m != nil {
		version, err := strconv.Atoi(m[2])
		if err != nil {
			return partToCertify{}, invalid("what", "%q: the version is out of range", name)
		}
		if _, err := a.Target(ctx, client, name); errors.Is(err, archive.ErrNotFound) {
			return certifiedApproval(ctx, a, client, m[1], version)
		}
	}
	t, err := a.Target(ctx, client, name)
	if err != nil {
		return partToCertify{}, err
	}
	pours, err := a.Pours(ctx, t.Client, t.Name)
	if err != nil {
		return partToCertify{}, err
	}
	c, err := newestRead(ctx, a, pours, fmt.Sprintf("target %q", t.Name))
	if err != nil {
		return partToCertify{}, err
	}
	return certifiedCast(ctx, a, c)
}

func certifiedApproval(ctx context.Context, a *archive.Bench, client, target string, version int) (partToCertify, error) {
	approval, err := a.Approval(ctx, client, target, version)
	if err != nil {
		return partToCertify{}, err
	}
	return approvedPart(ctx, a, approval)
}

// approvedPart is the part that an approval was proved by.
func approvedPart(ctx context.Context, a *archive.Bench, approval archive.Approval) (partToCertify, error) {
	p, err := a.Provenance(ctx, approval)
	if err != nil {
		return partToCertify{}, err
	}
	c, err := newestRead(ctx, a, p.Pours, "approval "+approval.Name())
	return partToCertify{c, p.Target, &approval}, err
}

// newestRead is the newest of some pours that was read.
func newestRead(ctx context.Context, a *archive.Bench, pours []archive.Pour, of string) (cast, error) {
	for _, p := range slices.Backward(pours) {
		c, err := castOf(ctx, a, p)
		if err != nil || len(c.readings) > 0 {
			return c, err
		}
	}
	return cast{}, fmt.Errorf("%s has no pour that was read; %s, then %s", of, remedy.Verb("pour add", "BATCH"), remedy.Verb("pour read", "POUR", remedy.InputAs("lab", "L,a,b")))
}

func certifiedCast(ctx context.Context, a *archive.Bench, c cast) (partToCertify, error) {
	found := partToCertify{cast: c}
	if len(c.readings) == 0 {
		_, err := c.piece()
		return found, err
	}
	t, err := targetOf(ctx, a, c.recipe)
	if err != nil {
		return found, err
	}
	if t == nil {
		return found, fmt.Errorf("%s is of recipe %s, which is for no target; nothing to certify", c.pour.ID(), c.recipe.ID())
	}
	found.target = *t
	approvals, err := a.Approvals(ctx, t.Client, t.Name)
	if i := slices.IndexFunc(approvals, func(x archive.Approval) bool { return slices.Contains(x.Pours, c.pour.Ref) }); i >= 0 {
		found.approval = &approvals[i]
	}
	return found, err
}

// certificate is the paper.
func (s partToCertify) certificate(ctx context.Context, a *archive.Bench, r CertificateRequest, h papers.Heading) (papers.Certificate, error) {
	c, t := s.cast, s.target
	read := c.readings[len(c.readings)-1]
	p := papers.Certificate{Heading: h, Number: cmp.Or(r.Number, c.pour.ID()), Client: t.Client, Target: t.Name, Recipe: c.recipe.ID(), Batch: c.batch.ID(),
		Pour: c.pour.ID(), Resin: c.recipe.Resin, Formula: color.Formula(t.Formula), Tolerance: t.Tolerance, Axes: t.Limits, EveryLight: r.EveryLight,
		Instrument: r.Instrument, ThicknessMM: c.recipe.ThicknessMM, Backing: c.recipe.Backing, PouredOn: c.pour.PouredOn, ReadOn: read.ReadOn,
		TargetReadOn: figure.Day(t.At), PartOfPour: read.Part, Notes: slices.Clone(r.Notes)}
	if cup, err := a.CupOfPour(ctx, c.pour.Ref); err == nil {
		p.Mould = cup.Mould
	} else if !errors.Is(err, archive.ErrNotFound) {
		return p, err
	}
	if p.Tolerance == 0 && len(p.Axes) == 0 {
		p.Tolerance = 1 // as everywhere where none was given
	}
	if v, err := c.judged(ctx, a); err != nil {
		return p, err
	} else if v != nil && v.Settled != nil {
		p.Notes = append(p.Notes, "The part was "+v.SettledLine()+".")
	}
	if read.Companion {
		p.Notes = append(p.Notes, "Read on a flat chip cast from the same cup as the part.")
	}
	for _, l := range c.pour.Lots {
		p.Lots = append(p.Lots, papers.Lot{Of: l.Code, Lot: l.Name})
	}
	if s.approval != nil {
		p.ApprovedBy, p.ApprovedOn = s.approval.By, figure.Day(s.approval.At)
	}
	var err error
	if p.Calibration, err = calibrationName(ctx, a, c.recipe); err != nil {
		return p, err
	}
	head, err := a.Head(ctx)
	if err != nil {
		return p, err
	}
	p.Head = string(head)
	part, err := c.piece()
	if err != nil {
		return p, err
	}
	wanted, err := pieceOf(t.Name, t.Readings)
	if err != nil {
		return p, err
	}
	p.Measurement = wanted.Measurement
	alike, done, err := readAlike(ctx, a, c.recipe, part, wanted)
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
	return cmp.Or(strings.Join(names, ", "), "no light")
}
