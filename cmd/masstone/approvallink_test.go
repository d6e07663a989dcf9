package main

import (
	"context"
	"encoding/json"
	"io"
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/recipes/workbench"
)

// TestClientLinkCommands makes a link, opens it where the bench is served, and
// closes it; wrong use is told in a line and changes nothing.
func TestClientLinkCommands(t *testing.T) {
	env, stdout, stderr := testEnv(t)
	run := func(code int, args ...string) string {
		stdout.Reset()
		stderr.Reset()
		require.Equal(t, code, execute(context.Background(), env, args), "%v: %s", args, stderr.String())
		return stdout.String()
	}
	run(exitDone, "target", "add", "lamp", "--client", "Tern", "--lab", "66.42,-10.35,-2.63", "--illuminant", "D65")
	run(exitFailed, "approval", "link", "lamp")
	require.Contains(t, stderr.String(), "it has none yet")
	run(exitDone, "recipe", "add", "--target", "lamp", "--phr", "WH=1.1,FG=0.21", "--json")
	run(exitDone, "approve", "R1")
	var made workbench.NewClientLink
	require.NoError(t, json.Unmarshal([]byte(run(exitDone, "approval", "link", "lamp", "--for", "J. Brandt", "--days", "7", "--json")), &made))
	require.Contains(t, run(exitDone, "approval", "links"), made.ID)
	for _, wrong := range []struct {
		code int
		args []string
	}{
		{exitMisuse, []string{"approval", "link"}},
		{exitMisuse, []string{"approval", "link", "lamp", "--days", "1,5"}},
		{exitMisuse, []string{"approval", "link", "lamp", "--days", "1e300"}},
		{exitMisuse, []string{"approval", "link", "lamp", "--days", "400"}},
		{exitFailed, []string{"approval", "link", "nobody"}},
		{exitFailed, []string{"approval", "link", "lamp", "--client", "o'Hara"}},
		{exitMisuse, []string{"approval", "links", "lamp"}},
		{exitMisuse, []string{"approval", "unlink"}},
		{exitFailed, []string{"approval", "unlink", "5a5a5a5a"}},
	} {
		run(wrong.code, wrong.args...)
		require.Regexp(t, `^[^\n]+\n$`, stderr.String(), wrong.args)
	}
	out := env.Stdout
	served, stop := serving(t, env, "--listen", "127.0.0.1:0")
	look := func() (int, string) {
		r, err := http.Get(served.Address + made.Path)
		require.NoError(t, err)
		defer r.Body.Close()
		text, err := io.ReadAll(r.Body)
		require.NoError(t, err)
		return r.StatusCode, string(text)
	}
	code, text := look()
	require.Equal(t, http.StatusOK, code)
	require.Contains(t, text, "as predicted")
	env.Stdout = out
	require.Contains(t, run(exitDone, "approval", "unlink", made.ID, "--why", "sent astray"), "is closed")
	code, _ = look()
	require.Equal(t, http.StatusNotFound, code)
	require.Contains(t, run(exitDone, "approval", "links"), "sent astray")
	stop()
	env.Stdout = out // the end of serve put its own back

	var v any
	unknown := map[string]bool{}
	root := newRootCommand(&Env{})
	require.NoError(t, json.Unmarshal([]byte(run(exitDone, "approval", "unlink", made.ID, "--json")), &v))
	cmd, _, err := root.Find([]string{"approval", "unlink"})
	require.NoError(t, err)
	undocumented(v, "", wordsOf(keysHelp(root, cmd, 2)), unknown)
	require.Empty(t, unknown)
}
