package main

import (
	"cmp"
	"fmt"
	"strings"

	"masstone/calibrate"
	"masstone/recipes/figure"
	"masstone/recipes/workbench"
)

func printCorrection(env *Env, r workbench.CorrectRequest, v workbench.Correction) {
	env.print("%s of recipe %s for %s%s: %s, %s", v.Pour, v.Recipe, named(v.Target), forClient(v.Client), v.Verdict.Word(), verdictLine(v.Verdict))
	env.print("")
	say := "says"
	if len(v.Pours) > 1 {
		say = "say"
	}
	env.print("What %s %s of the lots in the cup, against those calibrated in %s:", figure.List(v.Pours), say, v.Calibration)
	lots := newTable("pigment", "lot", "")
	for _, l := range v.Lots {
		lots.add(l.Code, cmp.Or(l.Lot, "-"), l.String())
	}
	lots.print(env.Stdout)
	env.print("")
	printWays(env, v)
	for _, w := range v.Ways {
		printWay(env, v.ScaleGrams, w)
	}
	env.print("")
	env.print("Best: %s. %s.", v.Best, upperFirst(v.Why))
	if len(v.Kept) > 0 {
		env.print("Kept for other recipes: %s.", lotsOf(v.Kept))
	}
	for _, n := range v.Notes {
		env.print("Note: %s", tidy(n))
	}
	printCaution(env)
	for _, w := range v.Ways {
		if w.Way == v.Best {
			sayNext(env, r, v, w)
		}
	}
}

// printWays sets the ways side by side.
func printWays(env *Env, v workbench.Correction) {
	share := func(n figure.Number) string { return fmt.Sprintf("%.0f %%", 100*n) }
	t := newTable("", "way", "recipe", ">expected dE00", ">95 %", ">chance", ">further off", "")
	for _, w := range v.Ways {
		mark, worse, advice := "", "-", ""
		if w.Way == v.Best {
			mark = "->"
		}
		if w.Recipe != "" {
			if worse, advice = share(w.Worse), "not recommended"; w.Recommended {
				advice = "recommended"
			}
		}
		t.add(mark, w.Way, cmp.Or(w.Recipe, "-"), fmt.Sprintf("%.2f", w.Expected), fmt.Sprintf("%.2f", w.Upper95), share(w.Chance), worse, advice)
		if w.Predicted != nil {
			t.paint(env.swatch(w.Predicted.Lab.Color(w.Predicted.Under)))
		}
	}
	t.print(env.Stdout)
}

// printWay says what to weigh.
func printWay(env *Env, step calibrate.Grams, w workbench.Way) {
	if w.Recipe == "" {
		return
	}
	env.print("")
	sign := ""
	if w.Growth == nil {
		env.print("%s, %s g of %s (%s phr):", upperFirst(w.Way), figure.Short(float64(*w.Total)), w.Recipe, figure.Changes(w.Change, w.Loadings))
	} else {
		env.print("%s, into the pot (then %s phr, %s):", upperFirst(w.Way), figure.Loadings(w.Loadings), w.Recipe)
		sign = "+"
	}
	t := newTable("  ", "item", ">grams")
	for _, l := range w.Lines {
		t.add("  [ ]", l.Item, sign+figure.Grams(l.Grams, step))
	}
	t.print(env.Stdout)
}

// sayNext says which command goes on from the best way.
func sayNext(env *Env, r workbench.CorrectRequest, v workbench.Correction, w workbench.Way) {
	switch {
	case w.Recipe == "" && v.Verdict.Passes:
		env.say("if the client agrees: masstone approve %s --pour %s", v.Recipe, v.Pour)
	case w.Recipe == "":
	case w.Growth == nil:
		env.say("weigh it: masstone batch %s --grams %s", w.Recipe, figure.Short(float64(*w.Total)))
	case r.Stock != "":
		env.say("once it is in: masstone stock correct %s %s --recipe %s", quoted(r.Stock), amountsText(w.Lines), w.Recipe)
	default:
		env.say("once it is in and the next shot is cast: masstone pour add %s", w.Batch)
	}
}

// amountsText lists amounts as flags take them: RD=0.3,WH=1.2.
func amountsText(lines []workbench.Amount) string {
	parts := make([]string, len(lines))
	for i, l := range lines {
		parts[i] = l.Item + "=" + figure.Short(float64(l.Grams))
	}
	return strings.Join(parts, ",")
}

// upperFirst begins a sentence.
func upperFirst(s string) string {
	if s == "" || s[0] < 'a' || s[0] > 'z' {
		return s
	}
	return string(s[0]-'a'+'A') + s[1:]
}
