package main

import (
	"context"
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"masstone/recipes/archive"
)

func newApprovalCommand(env *Env) *cobra.Command {
	return newFamily("approval", "Approved recipes: list, show", newApprovalListCommand(env), newApprovalShowCommand(env))
}

// approvalView is an approval in JSON.
type approvalView struct {
	Name        string            `json:"name"`
	Target      string            `json:"target"`
	Client      string            `json:"client,omitempty"`
	Version     int               `json:"version"`
	Recipe      recipeView        `json:"recipe"`
	Corrected   []string          `json:"corrected"`
	Calibration string            `json:"calibration,omitempty"`
	Chips       int               `json:"chips"`
	Pours       []string          `json:"pours"`
	Colors      []storedColorView `json:"colors"`
	Lots        map[string]string `json:"lots"`
	By          string            `json:"by"`
	At          string            `json:"at"`
	Who         string            `json:"who"`
	Note        string            `json:"note,omitempty"`
	Checksum    string            `json:"checksum"`
}

const approvalKeys = `name, target, client, version, recipe (with the keys of "recipe show"),
corrected (recipes it grew from), calibration, chips (fitted), pours, colors (a list
of under, lab: as read, or as predicted without a pour), lots (by code), by, at,
who, note, checksum`

func viewApproval(p archive.Provenance) approvalView {
	a := p.Approval
	v := approvalView{Name: a.Name(), Target: a.Target, Client: a.Client, Version: a.Version, Recipe: viewRecipe(p.Recipe), Corrected: []string{}, Chips: len(p.Chips),
		Pours: []string{}, Colors: []storedColorView{}, Lots: lotsView(a.Lots), By: a.By, At: day(a.At), Who: a.Who, Note: a.Note, Checksum: a.Ref}
	for _, r := range p.Corrected {
		v.Corrected = append(v.Corrected, r.ID())
	}
	if p.Calibration != nil {
		v.Calibration = p.Calibration.Name()
	}
	for _, pour := range p.Pours {
		v.Pours = append(v.Pours, pour.ID())
	}
	for _, l := range a.Colors {
		v.Colors = append(v.Colors, storedColorView{l.Color().Under.String(), viewLab(l.Color())})
	}
	return v
}

func newApprovalListCommand(env *Env) *cobra.Command {
	var client string
	cmd := &cobra.Command{
		Use:   "list [TARGET]",
		Short: "List approved recipes",
		Long: `Lists the approved recipe of every target, or all versions of one.

JSON keys: approvals, a list of
` + approvalKeys + `.`,
		Args: atMost("TARGET"),
		RunE: func(cmd *cobra.Command, args []string) error {
			target := ""
			if len(args) > 0 {
				target = args[0]
			}
			return runApprovalList(cmd.Context(), env, client, target)
		},
	}
	cmd.Flags().StringVar(&client, "client", "", "of this client only")
	return cmd
}

func runApprovalList(ctx context.Context, env *Env, client, target string) error {
	return withBench(ctx, env, func(b *archive.Bench) error {
		approvals, err := approvalsOn(ctx, env, b, client, target)
		if err != nil {
			return err
		}
		views := make([]approvalView, len(approvals))
		t := newTable("target", "client", ">version", "recipe", "loadings (phr)", "approved at", "by", "on")
		for i, a := range approvals {
			p, err := b.Provenance(ctx, a)
			if err != nil {
				return err
			}
			views[i] = viewApproval(p)
			at := ""
			if len(a.Colors) > 0 {
				at = archivedText(a.Colors[0]) + " " + a.Colors[0].Color().Under.String()
			}
			t.add(a.Target, a.Client, fmt.Sprint(a.Version), p.Recipe.ID(), recipeText(p.Recipe.Loadings, " ", ", "), at, a.By, day(a.At)[:10])
			if len(a.Colors) > 0 {
				t.paint(env.swatch(a.Colors[0].Color()))
			}
		}
		switch {
		case env.JSON:
			return env.emit(struct {
				Approvals []approvalView `json:"approvals"`
			}{views})
		case len(approvals) == 0:
			env.say("nothing is approved yet; masstone approve RECIPE --pour POUR")
			return nil
		}
		t.print(env.Stdout)
		return nil
	})
}

// approvalsOn lists all versions of one target, or the newest of every target.
func approvalsOn(ctx context.Context, env *Env, b *archive.Bench, client, target string) ([]archive.Approval, error) {
	if target != "" {
		return b.Approvals(ctx, client, target)
	}
	targets, err := b.Targets(ctx, client)
	if err != nil {
		return nil, err
	}
	var out []archive.Approval
	for _, t := range targets {
		all, err := b.Approvals(ctx, t.Client, t.Name)
		if errors.Is(err, archive.ErrAmbiguous) { // it has no client, and clients have one of its name
			env.say("the approvals of target %q without a client are not listed: clients have targets of that name", t.Name)
			continue
		}
		if err != nil {
			return nil, err
		}
		if len(all) > 0 {
			out = append(out, all[0])
		}
	}
	return out, nil
}

func newApprovalShowCommand(env *Env) *cobra.Command {
	var client string
	var version int
	cmd := &cobra.Command{
		Use:   "show TARGET",
		Short: "Show an approved recipe and everything it came from",
		Long: `Shows an approved recipe with everything it came from, and its checksum.

JSON keys: ` + approvalKeys + `.`,
		Args: needs("TARGET"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runApprovalShow(cmd.Context(), env, client, args[0], version)
		},
	}
	cmd.Flags().StringVar(&client, "client", "", "client, where several have a target of this name")
	cmd.Flags().IntVar(&version, "version", 0, "version of the approval (else the newest)")
	return cmd
}

func runApprovalShow(ctx context.Context, env *Env, client, target string, version int) error {
	return withBench(ctx, env, func(b *archive.Bench) error {
		a, err := b.Approval(ctx, client, target, version)
		if err != nil {
			return err
		}
		p, err := b.Provenance(ctx, a)
		if err != nil {
			return err
		}
		v := viewApproval(p)
		if env.JSON {
			return env.emit(v)
		}
		env.print("%q%s, approved by %s on %s", tidy(a.Name()), forClient(a.Client), tidy(a.By), v.At[:10])
		env.print("recipe %s in %s: %s phr, %s mm over %s", p.Recipe.ID(), p.Recipe.Resin, recipeText(p.Recipe.Loadings, " ", ", "), short(p.Recipe.ThicknessMM), tidy(p.Recipe.Backing))
		if len(v.Corrected) > 0 {
			env.print("corrected from %s", listed(v.Corrected))
		}
		for _, l := range a.Colors {
			env.print("approved at %s under %s  %s%s", archivedText(l), l.Color().Under, screen(l.Color()), spaced(env.swatch(l.Color())))
		}
		if v.Calibration != "" {
			env.print("calibration %s from %s", v.Calibration, plural(v.Chips, "chip"))
		}
		if len(v.Pours) > 0 {
			env.print("proved by %s", listed(v.Pours))
		}
		if len(a.Lots) > 0 {
			env.print("lots: %s", tidy(lotsText(a.Lots)))
		}
		if a.Note != "" {
			env.print("note: %s", tidy(a.Note))
		}
		env.print("checksum %s", a.Ref)
		return nil
	})
}
