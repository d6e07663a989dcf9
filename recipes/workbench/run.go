package workbench

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"

	"masstone/calibrate"
	"masstone/color/remedy"
	"masstone/recipes/archive"
	"masstone/recipes/control"
	"masstone/recipes/figure"
	"masstone/recipes/kept"
)

// A StartRunRequest begins a run of parts after an approval.
type StartRunRequest struct {
	Approval string // "Harbour lamp / housing v2", or a target for its newest
	Client   string // where several have a target of this name
	Parts    int    // wanted
	// Risk is the largest chance of being wrong about a part that is called
	// within; the usual if 0.
	Risk  float64
	On    string // day, 2026-03-31; today if empty
	Note  string
	Again bool // meant, though the same was recorded a moment ago
}

// StartRun begins a run.
func StartRun(ctx context.Context, b *Bench, r StartRunRequest) (Run, error) {
	var v Run
	switch {
	case r.Parts < 0:
		return v, outOfRange("parts", r.Parts, "1 or more")
	case r.Parts == 0:
		return v, missing("run", "parts", "say how many parts are wanted", "30")
	case r.Risk < 0 || r.Risk >= 0.5:
		return v, outOfRange("risk", r.Risk, "a share above 0 and below 0.5, such as 0.05")
	}
	err := together(ctx, b, &v, func(a *archive.Bench) error {
		approval, err := approvalNamed(ctx, a, r.Client, r.Approval)
		if errors.Is(err, archive.ErrNotFound) {
			return fmt.Errorf("%w; a run is cast after an approval: %s", err, remedy.Verb("approve", "RECIPE", remedy.InputAs("pour", "POUR")))
		}
		if err != nil {
			return err
		}
		before, err := a.Runs(ctx)
		if err != nil {
			return err
		}
		run, err := a.AddRun(ctx, archive.Run{Approval: approval.Ref, Parts: r.Parts, Risk: cmp.Or(r.Risk, control.UsualRisk), StartedOn: r.On, Note: r.Note})
		if err != nil {
			return err
		}
		if len(before) > 0 && !r.Again && before[0].Approval == run.Approval && before[0].Parts == run.Parts && before[0].Note == run.Note {
			if err := twice(before[0].ID()+" is such a run", before[0].Stamp, run.Stamp); err != nil {
				return err
			}
		}
		v, err = runView(ctx, a, run)
		return err
	})
	b.warnAhead(r.On, &v.Remarks)
	return v, err
}

// approvalNamed is an approval by "TARGET v2", or the newest of a target.
func approvalNamed(ctx context.Context, a *archive.Bench, client, name string) (archive.Approval, error) {
	if m := approvalName.FindStringSubmatch(name); m != nil {
		version, err := strconv.Atoi(m[2])
		if err != nil {
			return archive.Approval{}, invalid("approval", "%q: the version is out of range", name)
		}
		if _, err := a.Target(ctx, client, name); errors.Is(err, archive.ErrNotFound) {
			return a.Approval(ctx, client, m[1], version)
		}
	}
	return a.Approval(ctx, client, name, 0)
}

// A RunPourRequest records a pour as a cup of a run.
type RunPourRequest struct {
	Run string
	AddPourRequest
	Parts  int      // cast of the cup, 1 or more
	Mould  string   // "" if nobody said
	MouldC *float64 // temperature of the mould, °C; nil if nobody looked
	By     string   // who poured; who is at the bench if empty
}

// PourRun records a cup of a run.
func PourRun(ctx context.Context, b *Bench, r RunPourRequest) (RunCup, error) {
	var v RunCup
	if r.AsSheet && len(r.Weighed) > 0 {
		return v, invalid("weighed", "cup of %s: give either %s or %s", r.Run, remedy.Input("as-sheet"), remedy.Input("weighed"))
	}
	if r.Parts < 1 {
		return v, outOfRange("parts", r.Parts, "1 or more")
	}
	err := together(ctx, b, &v, func(a *archive.Bench) error {
		run, err := a.Run(ctx, r.Run)
		if err != nil {
			return err
		}
		if err := r.mould(ctx, a, run, &v.Remarks); err != nil {
			return err
		}
		c, jars, err := r.store(ctx, b, a, &run, &v.Remarks)
		if err != nil {
			return err
		}
		k, err := a.AddRunCup(ctx, archive.RunCup{Run: run.Ref, Pour: c.pour.Ref, Parts: r.Parts, Mould: r.Mould, MouldC: r.MouldC, By: r.By})
		if err != nil {
			return err
		}
		cups, err := a.RunCups(ctx, run.Ref)
		if err != nil {
			return err
		}
		cast := 0
		for _, k := range cups {
			cast += k.Parts
		}
		say := v.Remarks
		v = cupView(len(cups), k, c)
		v.Jars, v.Remarks = jars, say
		v.Remarks.say("%d of %d parts of %s are cast", cast, run.Parts, run.ID())
		return nil
	})
	b.warnAhead(r.On, &v.Remarks)
	return v, err
}

// A RunCup is a cup of a run: its pour, and what was read of its parts.
type RunCup struct {
	Cup    int               `json:"cup" doc:"in the order of pouring, from 1"`
	Pour   string            `json:"pour"`
	On     string            `json:"poured_on"`
	By     string            `json:"by"`
	Lots   map[string]string `json:"lots" doc:"by code"`
	RoomC  *figure.Number    `json:"room_c,omitempty"`
	Mould  string            `json:"mould,omitempty"`
	MouldC *figure.Number    `json:"mould_c,omitempty"`
	Parts  int               `json:"parts" doc:"cast of it"`
	Read   []RunPart         `json:"read" doc:"its parts that were read"`
	Jars   []Jar             `json:"jars,omitempty" doc:"of pre-dilutions it took from, when it is recorded"`

	ScaleGrams calibrate.Grams `json:"-"` // step of the scale, 0 if it is not known

	Remarks Remarks `json:"-"`
}

// A RunPart is a part of a run that was read.
type RunPart struct {
	Pour     string        `json:"pour"`
	Part     int           `json:"part,omitempty"`
	Settled  bool          `json:"settled,omitempty" doc:"it was read young: differences, chance and decision are those expected once it has settled"`
	DE00     figure.Number `json:"dE00"`
	DL       figure.Number `json:"dL" doc:"part less target"`
	DA       figure.Number `json:"da"`
	DB       figure.Number `json:"db"`
	Passes   bool          `json:"passes" doc:"as read"`
	Chance   figure.Number `json:"chance" doc:"of the part being within tolerance, the noise of the readings counted"`
	Decision string        `json:"decision" doc:"within, outside or undecided, at the risk of the run"`
	Warmth   string        `json:"other_temperature,omitempty" doc:"why it is not decided: read too warm or too cold"`

	verdict *kept.Verdict
	lab     figure.Lab    // that is charted
	u       figure.Number // standard uncertainty of the difference
}

// cupView is a cup as results show it, without decisions.
func cupView(n int, k archive.RunCup, c cast) RunCup {
	v := RunCup{Cup: n, Pour: c.pour.ID(), On: c.pour.PouredOn, By: cmp.Or(k.By, k.Who), Lots: lotsByCode(c.pour.Lots), Mould: k.Mould, Parts: k.Parts, Read: []RunPart{}, ScaleGrams: calibrate.Grams(c.batch.ScaleGrams)}
	if c.pour.RoomC != nil {
		v.RoomC = figure.Of(*c.pour.RoomC)
	}
	if k.MouldC != nil {
		v.MouldC = figure.Of(*k.MouldC)
	}
	return v
}

// partsRead are the parts of a cup that were read, each as read last; one that was
// read young counts as it is expected to be once it has settled.
func partsRead(ctx context.Context, a *archive.Bench, drifts drifts, c cast, risk float64) ([]RunPart, error) {
	parts := []RunPart{}
	t, err := targetOf(ctx, a, c.recipe)
	if err != nil {
		return nil, err
	}
	for _, r := range c.readings {
		verdict, err := kept.ReadVerdict(c.pour.ID(), r.Verdict)
		if err != nil {
			return nil, err
		}
		if verdict == nil {
			continue
		}
		if verdict, err = c.settling(ctx, a, drifts, r, verdict); err != nil {
			return nil, err
		}
		p := RunPart{Pour: c.pour.ID(), Part: r.Part, DE00: verdict.DE00, DL: verdict.DL, DA: verdict.DA, DB: verdict.DB, Passes: verdict.Passes, Chance: verdict.Chance,
			verdict: verdict, lab: verdict.Part, u: verdict.U}
		if s := verdict.Settled; s != nil {
			p.Settled, p.DE00, p.Chance, p.lab, p.u = true, s.DE00, s.Chance, s.Part, s.U
			p.DL, p.DA, p.DB = s.Part.L-verdict.Target.L, s.Part.A-verdict.Target.A, s.Part.B-verdict.Target.B
		}
		p.Decision = string(control.Decide(float64(p.Chance), risk))
		if p.Warmth = otherWarmth(r, t); p.Warmth != "" {
			p.Decision = string(control.Undecided)
		}
		if i := slices.IndexFunc(parts, func(x RunPart) bool { return x.Part == r.Part }); i >= 0 {
			parts[i] = p
		} else {
			parts = append(parts, p)
		}
	}
	return parts, nil
}

// A RunList is runs, the newest first.
type RunList struct {
	Runs []RunLine `json:"runs"`
}

// A RunLine is a run in a list.
type RunLine struct {
	Run       string `json:"run"`
	Target    string `json:"target"`
	Client    string `json:"client,omitempty"`
	Parts     int    `json:"parts" doc:"wanted"`
	Cast      int    `json:"cast" doc:"parts cast"`
	Cups      int    `json:"cups"`
	Read      int    `json:"read" doc:"parts read"`
	Within    int    `json:"within" doc:"parts decided to be within"`
	StartedOn string `json:"started_on"`
	Drift     string `json:"drift,omitempty"`
}

// Runs lists runs.
func Runs(ctx context.Context, b *Bench) (RunList, error) {
	v := RunList{Runs: []RunLine{}}
	all, err := b.archive.Runs(ctx)
	if err != nil {
		return v, err
	}
	for _, r := range all {
		run, err := runView(ctx, b.archive, r)
		if err != nil {
			return v, err
		}
		line := RunLine{Run: run.Run, Target: run.Target, Client: run.Client, Parts: run.Parts, Cast: run.Cast, Cups: len(run.Cups), StartedOn: run.StartedOn, Drift: run.Drift}
		if run.Summary != nil {
			line.Read, line.Within = run.Summary.Read, run.Summary.Within
		}
		v.Runs = append(v.Runs, line)
	}
	return v, nil
}

// ShowRun shows a run with its charts.
func ShowRun(ctx context.Context, b *Bench, id string) (Run, error) {
	r, err := b.archive.Run(ctx, id)
	if err != nil {
		return Run{}, err
	}
	v, err := runView(ctx, b.archive, r)
	if err != nil {
		return v, err
	}
	return v, v.answer(ctx, b.archive)
}
