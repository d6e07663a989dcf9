package main

import (
	"context"
	"encoding/json"
	"fmt"

	"masstone/recipes/archive"
)

// pastReadingView is one reading of a pour in JSON.
type pastReadingView struct {
	On      string            `json:"read_on"`
	Colors  []storedColorView `json:"colors"`
	Verdict *verdictView      `json:"verdict,omitempty"`
	Note    string            `json:"note,omitempty"`
}

func runPourShow(ctx context.Context, env *Env, id string) error {
	return withBench(ctx, env, func(b *archive.Bench) error {
		c, err := castNamed(ctx, b, id)
		if err != nil {
			return err
		}
		past := []pastReadingView{}
		for _, r := range c.readings {
			v, err := viewPastReading(c, r)
			if err != nil {
				return err
			}
			past = append(past, v)
		}
		if env.JSON {
			return env.emit(struct {
				pourView
				History []pastReadingView `json:"history"`
			}{viewPour(c), past})
		}
		printPour(env, c)
		if len(past) == 0 {
			env.print("not read yet")
			return nil
		}
		for _, r := range past[:len(past)-1] {
			verdict := "not judged"
			if r.Verdict != nil {
				verdict = r.Verdict.word() + ", " + r.Verdict.line()
			}
			env.print("read on %s: %s (read again since)", r.On, verdict)
		}
		last := past[len(past)-1]
		text := fmt.Sprintf("read on %s", last.On)
		for _, l := range last.Colors {
			text += fmt.Sprintf("; %.2f %.2f %.2f under %s", float64(l.Lab.L), float64(l.Lab.A), float64(l.Lab.B), l.Under)
		}
		env.print("%s", text)
		if last.Verdict != nil {
			printVerdict(env, last.Verdict)
		}
		return nil
	})
}

func viewPastReading(c cast, r archive.PourReading) (pastReadingView, error) {
	v := pastReadingView{On: r.ReadOn, Colors: []storedColorView{}, Note: r.Note}
	piece, err := pieceOf(c.pour.ID(), r.Readings)
	if err != nil {
		return v, err
	}
	labs, err := colors(piece, conditionsOf(c.recipe.Predicted))
	if err != nil {
		return v, err
	}
	for _, l := range labs {
		v.Colors = append(v.Colors, storedColorView{l.Under.String(), viewLab(l)})
	}
	if len(r.Verdict) > 0 {
		v.Verdict = new(verdictView)
		if err := json.Unmarshal(r.Verdict, v.Verdict); err != nil {
			return v, fmt.Errorf("%s: its verdict cannot be read (%w); run masstone verify", c.pour.ID(), err)
		}
	}
	return v, nil
}
