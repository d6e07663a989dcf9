package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"masstone/cmd/masstone/demo"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"program": func() { os.Exit(start()) }})
}

// masstone runs a command line in a script's folder and surroundings, and returns its
// exit code and what it printed. That it runs within the test spares it a start of the
// program; a script that gives something to read on stdin says program in its place.
func masstone(ts *testscript.TestScript, args ...string) (code int, stdout, stderr string) {
	var out, talk bytes.Buffer
	env := &Env{Stdin: strings.NewReader(""), Stdout: &out, Stderr: &talk, Getenv: ts.Getenv, Who: whoIsThere(), Dir: ts.MkAbs(".")}
	code = execute(context.Background(), env, args)
	here := strings.NewReplacer(env.Dir+string(filepath.Separator), "") // as files are named by one who is there
	stdout, stderr = here.Replace(out.String()), here.Replace(talk.String())
	if strings.Contains(stdout+stderr, "⟦") {
		ts.Fatalf("masstone %s: a mark is not worded:\n%s%s", commandText(args), stdout, stderr)
	}
	fmt.Fprint(ts.Stdout(), stdout)
	fmt.Fprint(ts.Stderr(), stderr)
	return code, stdout, stderr
}

// runMasstone is the script command
//
//	masstone ARGS...
func runMasstone(ts *testscript.TestScript, neg bool, args []string) {
	if code, _, stderr := masstone(ts, args...); (code != exitDone) != neg {
		ts.Fatalf("exit code %d; stderr: %s", code, stderr)
	}
}

// TestScripts runs the flows of testdata/script as a person types them. Every
// script starts in a folder of its own with real/ (testdata/real_pigments),
// shop/ (the invented shop) and ready.db, a bench of the invented shop that is
// fitted; MASSTONE_BENCH names bench.db, which does not exist.
//
// Under the race detector every command starts slowly, so only the scripts run
// whose commands work on several cores: fit, match, correct.
func TestScripts(t *testing.T) {
	p := testscript.Params{
		Dir: "testdata/script",
		Setup: func(env *testscript.Env) error {
			env.Setenv("MASSTONE_BENCH", "bench.db")
			env.Setenv("HOME", env.WorkDir)
			env.Setenv("XDG_DATA_HOME", "")
			for from, to := range map[string]string{"../../testdata/real_pigments": "real", "demo/shop": "shop"} {
				if err := os.CopyFS(filepath.Join(env.WorkDir, to), os.DirFS(from)); err != nil {
					return err
				}
			}
			bench, err := readyBench()
			if err != nil {
				return err
			}
			return os.WriteFile(filepath.Join(env.WorkDir, "ready.db"), bench, 0o644)
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){"masstone": runMasstone, "json": checkJSON, "oneline": checkOneLine, "readme": runReadme, "documented": checkDocumented},
	}
	if racing {
		p.Dir, p.Files = "", []string{"testdata/script/lab_only.txtar", "testdata/script/correct.txtar"}
	}
	testscript.Run(t, p)
}

// readyBench is a bench of the invented shop after its fit, made once.
var readyBench = sync.OnceValues(func() ([]byte, error) {
	dir, err := os.MkdirTemp("", "masstone")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	if err := os.CopyFS(dir, demo.Shop()); err != nil {
		return nil, err
	}
	var out, talk bytes.Buffer
	env := &Env{Stdin: strings.NewReader(""), Stdout: &out, Stderr: &talk, Now: time.Now, Who: "ada", Dir: dir,
		Getenv: func(name string) string { return map[string]string{"MASSTONE_BENCH": "ready.db"}[name] }}
	for _, s := range demoSteps[:5] {
		args := append([]string{}, s.args...)
		switch args[0] {
		case "init":
			args = args[:1]
		case "fit":
			args = append(args, "--layer", "exact") // by which the shop was made
		}
		if code := execute(context.Background(), env, args); code != exitDone {
			return nil, fmt.Errorf("masstone %s: exit %d: %s", commandText(args), code, talk.String())
		}
	}
	return os.ReadFile(filepath.Join(dir, "ready.db"))
})

// checkJSON is the script command
//
//	json PATH [OP VALUE]
//
// It reads the standard output of the last command as JSON and looks at a path
// such as recipes.0.predicted.L; "len" is the length of a list. OP is one of
// = != < <= > >= and ~ (contains). Without OP the path must exist.
func checkJSON(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) != 1 && len(args) != 3 {
		ts.Fatalf("usage: json PATH [OP VALUE]")
	}
	var root any
	if err := json.Unmarshal([]byte(ts.ReadFile("stdout")), &root); err != nil {
		ts.Fatalf("stdout is no JSON: %v", err)
	}
	v, found := at(root, strings.Split(args[0], "."))
	holds := found
	if found && len(args) == 3 {
		holds = compares(ts, v, args[1], args[2])
	}
	if holds == neg {
		text, _ := json.Marshal(v)
		ts.Fatalf("json %s: is %s (found %v)", strings.Join(args, " "), text, found)
	}
}

func at(v any, path []string) (any, bool) {
	for _, key := range path {
		switch x := v.(type) {
		case map[string]any:
			next, found := x[key]
			if !found {
				return nil, false
			}
			v = next
		case []any:
			if key == "len" {
				v = float64(len(x))
				continue
			}
			n, err := strconv.Atoi(key)
			if err != nil || n < 0 || n >= len(x) {
				return nil, false
			}
			v = x[n]
		default:
			return nil, false
		}
	}
	return v, true
}

func compares(ts *testscript.TestScript, v any, op, want string) bool {
	number, isNumber := v.(float64)
	wanted, err := strconv.ParseFloat(want, 64)
	switch op {
	case "=", "!=":
		return (fmt.Sprint(v) == want || isNumber && err == nil && number == wanted) == (op == "=")
	case "~":
		return strings.Contains(fmt.Sprint(v), want)
	}
	if !isNumber || err != nil {
		ts.Fatalf("json: %v %s %s: not two numbers", v, op, want)
	}
	switch op {
	case "<":
		return number < wanted
	case "<=":
		return number <= wanted
	case ">":
		return number > wanted
	case ">=":
		return number >= wanted
	}
	ts.Fatalf("json: unknown comparison %q", op)
	return false
}

// checkOneLine is the script command
//
//	oneline CODE TEXT ARGS...
//
// masstone ARGS must fail with exit code CODE, print nothing on stdout and one
// line on stderr, which holds TEXT.
func checkOneLine(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 3 {
		ts.Fatalf("usage: oneline CODE TEXT ARGS...")
	}
	code, stdout, stderr := masstone(ts, args[2:]...)
	switch {
	case fmt.Sprint(code) != args[0]:
		ts.Fatalf("exit code %d, want %s; stderr: %s", code, args[0], stderr)
	case stdout != "":
		ts.Fatalf("stdout is not empty: %s", stdout)
	case strings.Count(strings.TrimSpace(stderr), "\n") != 0 || strings.TrimSpace(stderr) == "":
		ts.Fatalf("stderr is not one line: %q", stderr)
	case !strings.Contains(stderr, args[1]):
		ts.Fatalf("stderr has no %q: %s", args[1], stderr)
	case strings.Contains(stderr, "Usage:"):
		ts.Fatalf("stderr dumps usage")
	}
}
