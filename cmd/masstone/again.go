package main

import (
	"context"

	"github.com/spf13/pflag"

	"masstone/recipes/workbench"
)

// againVar adds the flag by which the same is recorded once more.
func againVar(f *pflag.FlagSet, again *bool) {
	f.BoolVar(again, "again", false, "record it though the same was recorded less than a minute ago")
}

// onceMore does a verb; where it refuses to record what was recorded a moment ago,
// a person at the prompt is asked.
func onceMore[R any](ctx context.Context, env *Env, again *bool, verb func() (R, error)) (R, error) {
	v, err := verb()
	if !env.Asks || workbench.KindOf(err) != workbench.Repeated {
		return v, err
	}
	yes, failed := env.dialogue().means(ctx, worded(err.Error())+"; once more?")
	if failed != nil || !yes {
		return v, err
	}
	*again = true
	return verb()
}
