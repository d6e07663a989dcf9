package workbench

import (
	"context"
	"fmt"
	"slices"

	"masstone/color/remedy"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
)

// A WithdrawReadingRequest takes back a reading of a pour that is wrong: of another
// part, under another light, at another age.
type WithdrawReadingRequest struct {
	Pour    string
	Reading int // which, from 1 in the order they were taken; the newest if 0
	Why     string
}

// A WithdrawnReading is a reading of a pour that no longer counts.
type WithdrawnReading struct {
	Pour    string `json:"pour"`
	Reading int    `json:"reading" doc:"which it was, from 1"`
	On      string `json:"read_on"`
	Why     string `json:"why"`
	Left    int    `json:"readings_left"`
	// Approvals stay as they are: what was approved stands with what was known then.
	Approvals []string `json:"approvals" doc:"that it had proved"`

	Remarks Remarks `json:"-"`
}

// WithdrawReading takes a reading of a pour back. The record of it stays; verdicts,
// drifts, charts and fits from now on go without it.
func WithdrawReading(ctx context.Context, b *Bench, r WithdrawReadingRequest) (WithdrawnReading, error) {
	v := WithdrawnReading{Why: r.Why, Approvals: []string{}}
	if r.Why == "" {
		return v, missing("pour "+r.Pour, "why", "say why the reading is withdrawn", "it was 24 h old, not 7 d")
	}
	err := together(ctx, b, &v, func(a *archive.Bench) error {
		c, err := castNamed(ctx, a, r.Pour)
		if err != nil {
			return err
		}
		n := len(c.readings)
		switch {
		case n == 0:
			return fmt.Errorf("%s has no reading to withdraw; %s lists what was read", c.pour.ID(), remedy.Verb("pour list"))
		case r.Reading < 0 || r.Reading > n:
			return outOfRange("reading", r.Reading, fmt.Sprintf("1 to %d, as it has %s", n, figure.Count(n, "reading")))
		case r.Reading > 0:
			n = r.Reading
		}
		wrong := c.readings[n-1]
		if _, err := a.AddPourReading(ctx, archive.PourReading{Pour: c.pour.Ref, Part: wrong.Part, Withdraws: wrong.Ref, Note: r.Why}); err != nil {
			return err
		}
		if v.Approvals, err = c.proved(ctx, a, wrong); err != nil {
			return err
		}
		if len(v.Approvals) > 0 {
			v.Remarks.warn("it had proved %s, approved as before: read a part of %s again, and approve anew if it misses", figure.List(v.Approvals), c.pour.ID())
		}
		v.Pour, v.Reading, v.On, v.Left = c.pour.ID(), n, wrong.ReadOn, len(c.readings)-1
		return nil
	})
	return v, err
}

// proved are the approvals that went by a reading of a cast: given after it was taken
// and before another of the same part took its place.
func (c cast) proved(ctx context.Context, a *archive.Bench, reading archive.PourReading) ([]string, error) {
	names := []string{}
	if c.recipe.Target == "" {
		return names, nil
	}
	all, err := a.Approvals(ctx, c.recipe.Client, c.recipe.Target)
	if err != nil {
		return names, err
	}
	for _, approval := range slices.Backward(all) {
		newest := ""
		for _, r := range c.readings {
			if r.Part == reading.Part && !r.At.After(approval.At) {
				newest = r.Ref
			}
		}
		if newest == reading.Ref && slices.Contains(approval.Pours, c.pour.Ref) {
			names = append(names, approval.Name())
		}
	}
	return names, nil
}
