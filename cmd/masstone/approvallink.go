package main

import (
	"context"

	"github.com/spf13/cobra"

	"masstone/recipes/workbench"
)

func newApprovalLinkCommand(env *Env) *cobra.Command {
	var r workbench.ClientLinkRequest
	cmd := &cobra.Command{
		Use:   "link TARGET",
		Short: "Make a link by which a client sees an approval",
		Long: `Makes a link by which a client sees an approved part in a browser, without a
passcode, while serve runs: its colours and its certificate, no recipe and nothing
else. It is valid for some days, or until approval unlink. The link is told this
once; the bench keeps only a hash of it. Put its path behind the address that serve
tells:

  masstone approval link "Harbour lamp / housing" --for "J. Brandt" --days 7

` + jsonKeys(workbench.NewClientLink{}),
		Args: needs("TARGET"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Target = args[0]
			return tell(cmd.Context(), env, func(b *workbench.Bench) (workbench.NewClientLink, error) {
				return workbench.LinkApproval(cmd.Context(), b, r)
			}, func(v workbench.NewClientLink) {
				env.print("link %s to %s%s, until %s", v.ID, named(v.Approval), forClient(v.Client), v.Until)
				env.print("path %s", v.Path)
				env.say("put the path behind the address that serve tells, and send it to one person; it is told this once")
			})
		},
	}
	f := cmd.Flags()
	f.StringVar(&r.Client, "client", "", "client, where several have a target of this name")
	wholeVar(f, &r.Version, "version", 0, "version of the approval (else the newest)")
	f.StringVar(&r.For, "for", "", "`WHO` gets it")
	wholeVar(f, &r.Days, "days", workbench.UsualLinkDays, "for which it is valid")
	return cmd
}

func newApprovalLinksCommand(env *Env) *cobra.Command {
	return &cobra.Command{
		Use:   "links",
		Short: "List the links of clients",
		Long: `Lists the links by which clients see approvals, the newest first.

` + jsonKeys(workbench.ClientLinkList{}),
		Args: needs(),
		RunE: func(cmd *cobra.Command, args []string) error { return runApprovalLinks(cmd.Context(), env) },
	}
}

func runApprovalLinks(ctx context.Context, env *Env) error {
	return tell(ctx, env, func(b *workbench.Bench) (workbench.ClientLinkList, error) { return workbench.ClientLinks(ctx, b) }, func(v workbench.ClientLinkList) {
		if len(v.Links) == 0 {
			env.say("no client has a link; masstone approval link TARGET makes one")
			return
		}
		t := newTable("link", "approval", "client", "for", "until", "state", "by")
		for _, l := range v.Links {
			state := "valid"
			switch {
			case l.Closed != "":
				state = l.Closed
			case !l.Valid:
				state = "past its day"
			}
			t.add(l.ID, l.Approval, l.Client, l.For, l.Until, state, l.Who)
		}
		t.print(env.Stdout)
	})
}

func newApprovalUnlinkCommand(env *Env) *cobra.Command {
	var r workbench.CloseClientLinkRequest
	cmd := &cobra.Command{
		Use:   "unlink LINK",
		Short: "Close the link of a client",
		Long: `Closes a link, which is valid no more from then on.

` + jsonKeys(workbench.ClientLink{}),
		Args: needs("LINK"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.ID = args[0]
			return tell(cmd.Context(), env, func(b *workbench.Bench) (workbench.ClientLink, error) {
				return workbench.CloseClientLink(cmd.Context(), b, r)
			}, func(v workbench.ClientLink) {
				env.print("link %s to %s is closed", v.ID, named(v.Approval))
			})
		},
	}
	cmd.Flags().StringVar(&r.Why, "why", "", "why it is closed")
	return cmd
}
