package main

import (
	"fmt"
	"strings"

	"masstone/recipes/archive"
	"masstone/recipes/batch"
)

// printSheet prints a batch to weigh from.
func printSheet(env *Env, v batchView, r archive.Recipe, order string) {
	head := fmt.Sprintf("batch %s: %s g of recipe %s", v.Batch, v.Total.At(v.Step), v.Recipe)
	if v.Target != "" {
		head += fmt.Sprintf(" for %q%s", tidy(v.Target), forClient(v.Client))
	}
	env.print("%s, resin %s", head, v.Resin)
	env.print("ordered %s", order)
	if len(r.Predicted) > 0 {
		env.print("predicted %s under %s  %s%s", archivedText(r.Predicted[0]), r.Predicted[0].Color().Under, screen(r.Predicted[0].Color()), spaced(env.swatch(r.Predicted[0].Color())))
	}
	if len(v.Predilutions) > 0 {
		env.print("")
		env.print("First, pre-dilute:")
		for _, p := range v.Predilutions {
			env.print("  [ ] %s  (%s)", tidy(p.Words(v.Step)), tidy(p.Why))
		}
	}
	env.print("")
	env.print("Weigh into one cup that stays on the scale, from the top:")
	t := newTable("", "item", ">grams", ">scale shows", "")
	for _, l := range v.Lines {
		t.add("[ ]", l.Item, l.Grams.At(v.Step), l.Cumulative.At(v.Step), remark(v, l))
	}
	t.print(env.Stdout)
	printCups(env, v)
	printCosts(env, v)
	for _, n := range v.Notes {
		env.print("Note: %s", tidy(n))
	}
	if v.Rescue != nil {
		printRescue(env, v)
	}
	env.print("")
	env.print("Cautions:")
	for _, c := range v.Cautions {
		for i, line := range wrapped(c, 76) {
			env.print("%s%s", [2]string{"- ", "  "}[min(i, 1)], line)
		}
	}
}

// remark says what a line is.
func remark(v batchView, l batch.Line) string {
	switch {
	case l.Clock && v.Clock.PotLife > 0:
		return fmt.Sprintf("side %s; the pot life of %.3g min starts here", l.Item, v.Clock.PotLife)
	case l.Clock:
		return fmt.Sprintf("side %s; the pot life starts here", l.Item)
	case l.Kind == batch.ResinLine:
		return fmt.Sprintf("side %s", l.Item)
	case l.Drops > 0:
		return plural(int(l.Drops), "drop")
	case l.Kind == batch.DilutionLine:
		return "of the pre-dilution"
	}
	return ""
}

func printCups(env *Env, v batchView) {
	env.print("")
	if len(v.Cups) == 1 {
		c := v.Cups[0]
		text := fmt.Sprintf("One cup of %s g", c.Total.At(v.Step))
		if c.Volume.Millilitres() > 0 {
			text += fmt.Sprintf(", %.0f ml", c.Volume.Millilitres())
		}
		text += cupRoom(c) + fmt.Sprintf("; %.1f min from side %s to poured out", c.Minutes, otherSide(v))
		env.print("%s.%s", text, usable(v))
		return
	}
	env.print("%d cups from one pot of the pigmented side:%s", len(v.Cups), usable(v))
	t := newTable(">cup", ">shots", ">from the pot", ">side "+otherSide(v), ">in all", ">ml", ">container ml", ">min")
	for _, c := range v.Cups {
		shots := "-"
		if c.Shots > 0 {
			shots = fmt.Sprint(c.Shots)
		}
		minutes := fmt.Sprintf("%.1f", c.Minutes)
		if c.Late {
			minutes += " late"
		}
		t.add(fmt.Sprint(c.Number), shots, c.Pigmented.At(v.Step), c.Other.At(v.Step), c.Total.At(v.Step), millilitres(c.Volume), millilitres(c.Container), minutes)
	}
	t.print(env.Stdout)
}

func cupRoom(c batch.Cup) string {
	if c.Container.Millilitres() == 0 {
		return ""
	}
	return fmt.Sprintf(" in a container of at least %.0f ml for the vacuum", c.Container.Millilitres())
}

func usable(v batchView) string {
	if v.Clock.Usable == 0 {
		return ""
	}
	return fmt.Sprintf(" The pot life leaves %.1f min.", v.Clock.Usable)
}

func otherSide(v batchView) string {
	if v.PigmentSide == batch.SideA {
		return string(batch.SideB)
	}
	return string(batch.SideA)
}

func millilitres(v batch.Volume) string {
	if v.Millilitres() == 0 {
		return "-"
	}
	return fmt.Sprintf("%.0f", v.Millilitres())
}

// printCosts says what the scale costs in colour.
func printCosts(env *Env, v batchView) {
	e := v.Expected
	if e == nil {
		return
	}
	text := fmt.Sprintf("Expected dE00 %.2f; the recipe weighed without error has %.2f, so the scale costs ", e.Sheet, e.Ideal)
	if e.Cost >= 0.005 {
		text += fmt.Sprintf("%.2f", e.Cost)
	} else {
		text += "nothing"
	}
	if e.Gain >= 0.005 {
		text += fmt.Sprintf(" (plain rounding would cost %.2f more)", e.Gain)
	}
	if e.Undiluted != nil {
		text += fmt.Sprintf("; without pre-dilution it would be %.2f", *e.Undiluted)
	}
	env.print("%s.", text)
	if v.Smallest == nil {
		return
	}
	var parts []string
	for _, s := range []struct {
		what string
		size batch.Size
	}{{"every paste as it is", v.Smallest.Neat}, {"pre-dilutions", v.Smallest.Diluted}} {
		if s.size.Found {
			parts = append(parts, fmt.Sprintf("%s g with %s", s.size.Total.At(v.Step), s.what))
		} else {
			parts = append(parts, fmt.Sprintf("none with %s (%s)", s.what, s.size.Why))
		}
	}
	env.print("Smallest batch that keeps the tolerance of %s: %s.", short(v.Smallest.Tolerance), strings.Join(parts, ", "))
}

// printRescue shows the ways to carry on with a spoilt cup.
func printRescue(env *Env, v batchView) {
	env.print("")
	if len(v.Rescue.Over) == 0 {
		env.print("Nothing in the cup is over; top it up:")
	}
	for _, o := range v.Rescue.Over {
		env.print("%s: %s g in the cup, %s g planned.", tidy(o.Item), o.Poured.At(v.Step), o.Planned.At(v.Step))
	}
	for _, r := range v.Rescue.Remedies {
		text := fmt.Sprintf("Go on %q: %s g in all, %s than planned", r.Way, r.Total.At(v.Step), moreOrLess(r.Extra, v.Step))
		if r.Expected != nil {
			text += fmt.Sprintf("; expected dE00 %.2f", *r.Expected)
			if r.Keeps {
				text += ", within tolerance"
			}
		}
		env.print("%s", text)
		t := newTable("  ", "item", ">in the cup", ">add", ">scale shows")
		for _, l := range r.Lines {
			if l.Add.Positive() {
				t.add("  [ ]", l.Item, l.Poured.At(v.Step), l.Add.At(v.Step), l.Cumulative.At(v.Step))
			}
		}
		t.print(env.Stdout)
		for _, n := range r.Notes {
			env.print("  %s", tidy(n))
		}
	}
}

// moreOrLess is how far an amount is from another.
func moreOrLess(extra, step batch.Mass) string {
	switch extra.Compare(batch.Mass{}) {
	case 0:
		return "no more"
	case -1:
		return batch.Mass{}.Minus(extra).At(step) + " g less"
	}
	return extra.At(step) + " g more"
}
