package main

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"masstone/recipes"
	"masstone/recipes/archive"
	"masstone/recipes/batch"
)

// correctView is a correction in JSON.
type correctView struct {
	Pour        string            `json:"pour"`
	Recipe      string            `json:"recipe"`
	Target      string            `json:"target"`
	Client      string            `json:"client,omitempty"`
	Resin       string            `json:"resin"`
	Calibration string            `json:"calibration"`
	Pours       []string          `json:"pours"`
	Verdict     *verdictView      `json:"verdict"`
	Ways        []wayView         `json:"ways"`
	Best        string            `json:"best"`
	Why         string            `json:"why"`
	Lots        []strengthView    `json:"lots"`
	Kept        map[string]string `json:"kept"`
	Notes       []string          `json:"notes"`
}

type wayView struct {
	Way         string         `json:"way"`
	Recipe      string         `json:"recipe,omitempty"`
	Batch       string         `json:"batch,omitempty"`
	Loadings    map[string]fig `json:"loadings_phr,omitempty"`
	Change      map[string]fig `json:"change_phr,omitempty"`
	Lines       []amountView   `json:"lines,omitempty"`
	Total       *fig           `json:"total_grams,omitempty"`
	Growth      *fig           `json:"growth,omitempty"`
	Expected    fig            `json:"expected_dE00"`
	Upper95     fig            `json:"upper95_dE00"`
	Chance      fig            `json:"chance"`
	Worse       fig            `json:"worse"`
	Gain        fig            `json:"gain_dE00"`
	Recommended bool           `json:"recommended"`
	CostPerKg   *fig           `json:"cost_per_kg,omitempty"`
}

func (c *correction) view() correctView {
	v := correctView{Pour: c.last.pour.ID(), Recipe: c.last.recipe.ID(), Target: c.last.recipe.Target, Client: c.last.recipe.Client, Resin: c.last.recipe.Resin,
		Calibration: c.stored.Name(), Verdict: c.verdict, Best: string(c.answer.Best), Why: c.why(), Lots: []strengthView{}, Kept: lotsView(c.kept), Notes: append([]string{}, c.notes...)}
	for _, s := range c.seen.casts {
		v.Pours = append(v.Pours, s.pour.ID())
	}
	for _, code := range c.inCup() {
		v.Lots = append(v.Lots, viewStrength(code, lotOf(c.last.pour.Lots, archive.OfPigment, code), c.answer.Strengths[code]))
	}
	for _, w := range c.ways {
		v.Ways = append(v.Ways, c.viewWay(w))
	}
	return v
}

func (c *correction) viewWay(w wayOut) wayView {
	if w.route == nil {
		live := c.answer.Live
		return wayView{Way: string(w.way), Expected: fig(live.Expected), Upper95: fig(live.Upper95), Chance: fig(live.Chance), Recommended: c.answer.Best == w.way}
	}
	r := w.route
	v := wayView{Way: string(w.way), Recipe: w.recipe.ID(), Batch: w.batch, Loadings: figures(r.Loadings), Change: figures(c.change(w)), Lines: viewAmounts(linesOf(w.lines)),
		Growth: optional(w.growth), Expected: fig(r.Expected), Upper95: fig(r.Upper95), Chance: fig(r.Chance), Worse: fig(r.Worse), Gain: fig(r.Gain),
		Recommended: r.Recommended, CostPerKg: optional(r.CostPerKg)}
	if w.growth == 0 {
		v.Total = optional(c.grams())
	}
	return v
}

// inCup lists the pigments of the pour that something was learnt of.
func (c *correction) inCup() []string {
	return slices.DeleteFunc(codesOf(c.last.recipe), func(code string) bool { _, learnt := c.answer.Strengths[code]; return !learnt })
}

// change is how a way's recipe differs from what was poured.
func (c *correction) change(w wayOut) map[string]float64 {
	poured := c.seen.pours[len(c.seen.pours)-1].Loadings
	return recipes.Change(poured, w.route.Loadings)
}

// why says in a line why the best way is the best.
func (c *correction) why() string {
	live := c.answer.Live
	for _, w := range c.ways {
		if w.way == c.answer.Best && w.route != nil {
			return fmt.Sprintf("%.2f is expected instead of %.2f, more than the noise of reading and weighing explains; the chance of being further off than now is %.0f %%", w.route.Expected, live.Expected, 100*w.route.Worse)
		}
	}
	if live.Chance >= 0.5 {
		return fmt.Sprintf("the part is within tolerance with a chance of %.0f %%, and what another would gain the noise of reading and weighing explains", 100*live.Chance)
	}
	return "no way is sure enough to come nearer; read the part again, or cast chips of the pigments whose lots are in doubt"
}

func (c *correction) print(env *Env) {
	r := c.last.recipe
	env.print("%s of recipe %s for %q%s: %s, %s", c.last.pour.ID(), r.ID(), tidy(r.Target), forClient(r.Client), c.verdict.word(), c.verdict.line())
	var learnt []string
	for _, s := range c.seen.casts {
		learnt = append(learnt, s.pour.ID())
	}
	env.print("")
	env.print("What %s of the lots in the cup, against those calibrated in %s:", says(learnt), c.stored.Name())
	lots := newTable("pigment", "lot", "")
	for _, code := range c.inCup() {
		lots.add(code, firstText(lotOf(c.last.pour.Lots, archive.OfPigment, code), "-"), strengthText(c.answer.Strengths[code]))
	}
	lots.print(env.Stdout)
	env.print("")
	t := newTable("", "way", "recipe", ">expected dE00", ">95 %", ">chance", ">further off", "")
	for _, w := range c.ways {
		mark := ""
		if w.way == c.answer.Best {
			mark = "->"
		}
		if w.route == nil {
			t.add(mark, string(w.way), "-", fmt.Sprintf("%.2f", c.answer.Live.Expected), fmt.Sprintf("%.2f", c.answer.Live.Upper95), fmt.Sprintf("%.0f %%", 100*c.answer.Live.Chance), "-", "")
			continue
		}
		advice := "not recommended"
		if w.route.Recommended {
			advice = "recommended"
		}
		t.add(mark, string(w.way), w.recipe.ID(), fmt.Sprintf("%.2f", w.route.Expected), fmt.Sprintf("%.2f", w.route.Upper95), fmt.Sprintf("%.0f %%", 100*w.route.Chance), fmt.Sprintf("%.0f %%", 100*w.route.Worse), advice)
		t.paint(env.swatch(w.route.Colors[0].Lab))
	}
	t.print(env.Stdout)
	for _, w := range c.ways {
		c.printWay(env, w)
	}
	env.print("")
	env.print("Best: %s. %s.", c.answer.Best, upperFirst(c.why()))
	if len(c.kept) > 0 {
		env.print("Kept for other recipes: %s.", tidy(lotsText(c.kept)))
	}
	for _, n := range c.notes {
		env.print("Note: %s", tidy(n))
	}
	printCaution(env)
	for _, w := range c.ways {
		if w.way == c.answer.Best {
			c.sayNext(env, w)
		}
	}
}

// printWay says what to weigh.
func (c *correction) printWay(env *Env, w wayOut) {
	if w.route == nil {
		return
	}
	step := batch.Grams(c.o.scale)
	env.print("")
	if w.growth == 0 {
		env.print("%s, %s g of %s (%s phr):", upperFirst(string(w.way)), short(c.grams()), w.recipe.ID(), changeText(c.change(w), w.route.Loadings))
	} else {
		env.print("%s, into the pot (then %s phr, %s):", upperFirst(string(w.way)), recipeText(w.route.Loadings, " ", ", "), w.recipe.ID())
	}
	t := newTable("  ", "item", ">grams")
	for _, l := range w.lines {
		grams := l.Grams.At(step)
		if w.growth != 0 {
			grams = "+" + grams
		}
		t.add("  [ ]", l.Item, grams)
	}
	t.print(env.Stdout)
}

// sayNext says which command goes on from the best way.
func (c *correction) sayNext(env *Env, w wayOut) {
	switch {
	case w.route == nil && c.verdict.Passes:
		env.say("if the client agrees: masstone approve %s --pour %s", c.last.recipe.ID(), c.last.pour.ID())
	case w.route == nil:
	case w.growth == 0:
		env.say("weigh it: masstone batch %s --grams %s", w.recipe.ID(), short(c.grams()))
	case c.o.stock != "":
		env.say("once it is in: masstone stock correct %s %s --recipe %s", quoted(c.o.stock), amountsText(w.lines), w.recipe.ID())
	default:
		env.say("once it is in and the next shot is cast: masstone pour add %s", w.batch)
	}
}

func says(pours []string) string {
	if len(pours) == 1 {
		return pours[0] + " says"
	}
	return listed(pours) + " say"
}

// upperFirst begins a sentence.
func upperFirst(s string) string {
	if s == "" || s[0] < 'a' || s[0] > 'z' {
		return s
	}
	return string(s[0]-'a'+'A') + s[1:]
}

// changeText lists loadings with how they changed: FG 0.19 (-0.02), WH 1.1 (+0.01).
func changeText[V ~float64](change map[string]float64, loadings map[string]V) string {
	codes := slices.Sorted(maps.Keys(change))
	var parts []string
	for _, code := range codes {
		moved := fmt.Sprintf("%+.3f", change[code])
		if strings.Trim(moved, "+-0.") == "" {
			moved = "as before"
		}
		parts = append(parts, fmt.Sprintf("%s %.4g (%s)", code, float64(loadings[code]), moved))
	}
	return listed(parts)
}

// amountsText lists amounts as flags take them: RD=0.3 WH=1.2.
func amountsText(lines []batch.Amount) string {
	text := ""
	for i, l := range lines {
		if i > 0 {
			text += ","
		}
		text += fmt.Sprintf("%s=%s", l.Item, short(l.Grams.Grams()))
	}
	return text
}
