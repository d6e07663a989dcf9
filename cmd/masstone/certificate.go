package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"masstone/recipes/workbench"
)

func newCertificateCommand(env *Env) *cobra.Command {
	var r workbench.CertificateRequest
	var paper paperFlags
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
part_of_pour, mould, resin, calibration, lots (of, lot), formula, tolerance, axes (limits by axis),
every_light, readings (target and part by light), differences (under, dE, dL, da,
db, dC, dH, words, metamerism), within, measurement (geometry, specular),
instrument, part_readings, target_readings, scatter_dE00, thickness_mm, over,
target_read_on, poured_on, read_on, approved_on, approved_by, head (of the log), notes,
find.`,
		Args: needs("WHAT"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.What = args[0]
			return runCertificate(cmd.Context(), env, r, paper)
		},
	}
	f := cmd.Flags()
	f.StringVar(&r.Client, "client", "", "client, where several have a target of this name")
	f.StringVar(&r.Number, "number", "", "number of the certificate (else that of the pour)")
	f.StringVar(&r.Instrument, "instrument", "", "what it was read with")
	f.BoolVar(&r.EveryLight, "every-light", false, "judge under every light, not the main one alone")
	f.StringArrayVar(&r.Notes, "note", nil, "remark (may be repeated)")
	paper.add(f, "the certificate")
	return cmd
}

func runCertificate(ctx context.Context, env *Env, r workbench.CertificateRequest, paper paperFlags) error {
	if err := paper.check(env); err != nil {
		return err
	}
	r.Shop = paper.maker(env)
	return withBench(ctx, env, func(b *workbench.Bench) error {
		v, err := workbench.Certificate(ctx, b, r)
		if err != nil {
			return err
		}
		return paper.show(env, fmt.Sprintf("certificate of %s for %q%s", v.Pour, v.Target, forClient(v.Client)), v)
	})
}
