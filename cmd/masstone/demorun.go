package main

import (
	"context"
	"fmt"
	"io"

	"masstone/cmd/masstone/demo"
)

// demoCups is how many cups the demonstration casts of its run.
const demoCups = 6

// castRun casts an order of many parts, cup by cup, of a batch that was approved.
func (d *demonstration) castRun(ctx context.Context, shop *demo.Bench, batch string) error {
	if err := d.all(ctx, []step{
		{"The parts are cast in a mould of their own, three at a time; its card counts the shots.",
			[]string{"mould", "add", "M1", "--client", "Tern Lighting", "--cavities", "3", "--cure", "platinum", "--silicone-lot", "S-118", "--life", "40"}},
		{"Now the order: thirty parts, cast cup by cup over some days.",
			[]string{"run", "start", demoTarget, "--parts", "30"}},
		{"How does that go over the moulds, at two shots a day?",
			[]string{"run", "plan", "RUN1", "--mould", "M1", "--per-day", "2"}},
		{"The first cup.",
			[]string{"run", "pour", "RUN1", batch, "--parts", "3", "--mould", "M1", "--room", "21C"}},
	}); err != nil {
		return err
	}
	for cup := 1; cup <= demoCups; cup++ {
		pour, file := fmt.Sprintf("P%d", cup+2), fmt.Sprintf("cup%d.csv", cup)
		if cup > 1 {
			if err := d.unseen(ctx, "run", "pour", "RUN1", batch, "--parts", "3", "--mould", "M1", "--room", "21C", "--again"); err != nil {
				return err
			}
		}
		if err := d.cure(ctx, shop, pour, file); err != nil {
			return err
		}
		read := []string{"pour", "read", pour, "--part", "1", "--file", file}
		if cup == 1 {
			if err := d.do(ctx, step{"One of its parts is read.", read}); err != nil {
				return err
			}
			continue
		}
		if err := d.unseen(ctx, read...); err != nil {
			return err
		}
	}
	return d.do(ctx, step{fmt.Sprintf("The next %d cups likewise, not shown. Does the run hold its colour, and which parts are within at a stated risk?", demoCups-1),
		[]string{"run", "show", "RUN1", "--chart", "run.svg"}})
}

// unseen runs a command line that is not shown.
func (d *demonstration) unseen(ctx context.Context, args ...string) error {
	quiet, env := *d, *d.env
	env.Stderr, quiet.env = io.Discard, &env
	return quiet.run(ctx, args, io.Discard, true)
}
