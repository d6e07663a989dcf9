package main

import (
	"context"
	"database/sql"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/recipes/archive/postgres/ownserver"
)

// The commands say of a bench in a database what they say of the same bench in a
// file, and never a password.
func TestBenchInADatabase(t *testing.T) {
	server := ownserver.Start(t)
	address := server.Address("owner:s3cret", server.Database(""))
	address = strings.Replace(address, "owner%3As3cret", "owner:s3cret", 1)
	ready, err := readyBench()
	require.NoError(t, err)
	env, stdout, stderr := testEnv(t)
	require.NoError(t, os.WriteFile(filepath.Join(env.Dir, "ready.db"), ready, 0o600))
	run := func(bench string, want int, args ...string) string {
		t.Helper()
		stdout.Reset()
		stderr.Reset()
		next := *env
		got := execute(context.Background(), &next, append(args, "--bench", bench))
		require.Equal(t, want, got, "%v: %s%s", args, stderr, stdout)
		assert.NotContains(t, stdout.String()+stderr.String(), "s3cret", "%v", args)
		if want != exitDone {
			assert.Equal(t, 1, strings.Count(stderr.String(), "\n"), "%v: %s", args, stderr)
			return stderr.String()
		}
		return stdout.String()
	}
	assert.Contains(t, run(address, exitFailed, "resin", "list"), "masstone init")
	run(address, exitDone, "init", "--json")
	run(address, exitFailed, "init")
	assert.Contains(t, run(address, exitMisuse, "backup", "copy.db"), "pg_dump")
	assert.Contains(t, run(address, exitMisuse, "restore", "copy.db"), "pg_restore")
	run("ready.db", exitDone, "export", "--out", "all.masstone")
	run(address, exitDone, "import", "all.masstone")

	// Who may only look is told what nobody but the owner can check, and at every verb
	// that stores. The grants are the README's.
	server.Say("CREATE ROLE eye LOGIN")
	db, err := sql.Open("pgx", address)
	require.NoError(t, err)
	defer db.Close()
	for _, grant := range []string{"GRANT USAGE ON SCHEMA masstone TO eye", "GRANT SELECT ON ALL TABLES IN SCHEMA masstone TO eye"} {
		_, err := db.Exec(grant)
		require.NoError(t, err)
	}
	eye := strings.Replace(address, "owner:s3cret", "eye:s3cret", 1)
	assert.Contains(t, run(eye, exitDone, "verify"), "0 problems\nnot checked: the schema")
	for _, store := range []string{"lot add WH L9", "resin add X --mix 1:1 --density-a 1 --density-b 1 --pot-life 7m --pigment-side B", "import all.masstone --take-theirs", "stock tint pail --recipe R1 --grams 100"} {
		assert.Contains(t, run(eye, exitFailed, strings.Fields(store)...), `role "eye" may not do that`, store)
	}

	lost := run(address, exitFailed, "verify", "--head", "999-0123456789abcdef")
	assert.Contains(t, lost, "1 problem found; restore its backup into another database with pg_restore")
	assert.NotContains(t, lost, "BACKUP", "that is for files")

	line := regexp.MustCompile(`(?m)^.*("bench"|"at": |"links"|"head"|"linked_from"|"made"|"modified"|"created").*$`)
	for _, command := range []string{"resin list", "pigment list", "backing list", "chip list --resin CLR", "target list", "lot list", "stock list", "plan list", "find", "mould list", "run list",
		"verify"} {
		args := append(strings.Fields(command), "--json")
		inFile, inBase := run("ready.db", exitDone, args...), run(address, exitDone, args...)
		assert.Equal(t, line.ReplaceAllString(inFile, ""), line.ReplaceAllString(inBase, ""), command)
		assert.Equal(t, line.ReplaceAllString(inBase, ""), line.ReplaceAllString(run(eye, exitDone, args...), ""), command)
	}
	run(address, exitDone, "lot", "add", "WH", "L123", "--open")
	assert.Contains(t, run(address, exitDone, "log"), "L123")
	run(address, exitDone, "export", "--out", "back.masstone")
	run("back.db", exitDone, "init")
	run("back.db", exitDone, "import", "back.masstone")
	run("back.db", exitDone, "verify")
}
