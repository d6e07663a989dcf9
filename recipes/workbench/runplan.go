package workbench

import (
	"context"
	"fmt"
	"slices"

	"masstone/color/remedy"
	"masstone/recipes/archive"
)

// A RunPlanRequest asks how the parts of a run that are still to be cast go over
// moulds.
type RunPlanRequest struct {
	Run    string
	Moulds []string // those of the run's part, and those used in it, if none is named
	PerDay int      // shots that one mould takes a day; 0 if not known
}

// A RunPlan is which mould casts how much of what is left of a run.
type RunPlan struct {
	Run     string         `json:"run"`
	Left    int            `json:"parts_left" doc:"to cast"`
	Moulds  []PlannedMould `json:"moulds"`
	Short   int            `json:"parts_short" doc:"that no mould has shots left for"`
	Days    int            `json:"days,omitempty" doc:"at the shots a day that were given"`
	Remarks Remarks        `json:"-"`
}

// A PlannedMould is what a mould is to cast.
type PlannedMould struct {
	Name     string   `json:"mould"`
	Shots    int      `json:"shots"`
	Parts    int      `json:"parts"`
	Then     int      `json:"shots_then" doc:"of the mould in all, after these"`
	Left     *int     `json:"shots_left,omitempty" doc:"of those expected, after these"`
	Cautions []string `json:"cautions"`
}

// PlanRun shares what is left of a run among moulds: each next shot goes to the
// mould with the fewest of this plan that has shots left.
func PlanRun(ctx context.Context, b *Bench, r RunPlanRequest) (RunPlan, error) {
	v := RunPlan{Moulds: []PlannedMould{}}
	if r.PerDay < 0 {
		return v, outOfRange("per-day", r.PerDay, "1 or more")
	}
	run, err := ShowRun(ctx, b, r.Run)
	if err != nil {
		return v, err
	}
	moulds, err := r.moulds(ctx, b.archive, run)
	if err != nil {
		return v, err
	}
	v.Run, v.Left = run.Run, max(0, run.Parts-run.Cast)
	for _, m := range moulds {
		if m.Retired != "" {
			v.Remarks.warn("mould %s is retired: %s", m.Name, m.Retired)
		}
		v.Moulds = append(v.Moulds, PlannedMould{Name: m.Name, Then: m.Shots, Left: m.Left, Cautions: m.Cautions})
	}
	v.Short = v.Left
	for v.Short > 0 {
		next := -1
		for i, p := range v.Moulds {
			if (p.Left == nil || *p.Left > 0) && (next < 0 || p.Shots < v.Moulds[next].Shots) {
				next = i
			}
		}
		if next < 0 {
			break
		}
		p := &v.Moulds[next]
		p.Shots, p.Then = p.Shots+1, p.Then+1
		if p.Left != nil {
			left := *p.Left - 1
			p.Left = &left
		}
		made := min(moulds[next].Cavities, v.Short)
		p.Parts, v.Short = p.Parts+made, v.Short-made
	}
	for _, p := range v.Moulds {
		if r.PerDay > 0 {
			v.Days = max(v.Days, shotsFor(p.Shots, r.PerDay))
		}
	}
	if v.Short > 0 {
		v.Remarks.warn("%d parts have no mould: make another (%s), or say that one lasts longer", v.Short, remedy.Verb("mould weigh"))
	}
	return v, nil
}

// moulds are those to plan over.
func (r RunPlanRequest) moulds(ctx context.Context, a *archive.Bench, run Run) ([]Mould, error) {
	all, err := a.Moulds(ctx)
	if err != nil {
		return nil, err
	}
	for i, name := range r.Moulds {
		if _, err := a.Mould(ctx, name); err != nil {
			return nil, fmt.Errorf("%w; %s makes one known", err, remedy.Verb("mould add", "NAME"))
		}
		if slices.Contains(r.Moulds[:i], name) {
			return nil, invalid("mould", "%s: is named twice; name each mould once", remedy.InputAs("mould", name))
		}
	}
	target, err := a.Target(ctx, run.Client, run.Target)
	if err != nil {
		return nil, err
	}
	used := func(name string) bool {
		return slices.ContainsFunc(run.Cups, func(c RunCup) bool { return c.Mould == name })
	}
	var out []Mould
	for _, m := range all {
		wanted := slices.Contains(r.Moulds, m.Name)
		if len(r.Moulds) == 0 {
			wanted = m.Retired == "" && (used(m.Name) || m.Part != "" && m.Part == target.Part && m.Client == run.Client)
		}
		if !wanted {
			continue
		}
		v, _, err := mouldView(ctx, a, m)
		if err != nil {
			return nil, err
		}
		out = append(out, v)
	}
	if len(out) == 0 {
		return nil, invalid("mould", "%s: which moulds? none in use is of its part or was used in it; name them: %s", run.Run, remedy.InputAs("mould", "NAME"))
	}
	return out, nil
}
