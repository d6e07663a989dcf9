package main

import (
	"context"
	"errors"
	"path/filepath"
	"reflect"
	"strings"
	"sync"

	"masstone/color/remedy"
	"masstone/recipes/workbench"
)

// withBench opens the bench for one command and closes it after.
func withBench(ctx context.Context, env *Env, do func(*workbench.Bench) error) error {
	path, lying, err := env.benchPath()
	if err != nil {
		return err
	}
	p := env.progress()
	defer p.end()
	b, err := workbench.Open(ctx, path, env.workbenchOptions(p))
	if err != nil {
		return err
	}
	if lying && !env.JSON {
		env.say("bench: %s, the one in this folder", filepath.Base(path))
	}
	return errors.Join(do(b), b.Close())
}

// tell does a verb and gives its result: as JSON, or in the words of print.
func tell[R any](ctx context.Context, env *Env, verb func(*workbench.Bench) (R, error), print func(R)) error {
	return withBench(ctx, env, func(b *workbench.Bench) error {
		v, err := verb(b)
		if err == nil && env.JSON {
			return env.emit(v)
		}
		if err == nil {
			print(v)
		}
		return err
	})
}

func (e *Env) workbenchOptions(p *progress) workbench.Options {
	return workbench.Options{Now: e.Now, Who: e.Who, Program: "masstone " + version, Progress: p.hear,
		LeftOut: func(err error) { e.say("warning: left out: %s", err) }, Stored: e.noteStored, Damaged: e.damaged}
}

// remark says what a verb has to say beside its result.
func (e *Env) remark(all workbench.Remarks) {
	for _, r := range all {
		if r.Warning {
			r.Text = "warning: " + r.Text
		}
		e.say("%s", r.Text)
	}
}

// worded names the inputs and verbs that a message marks as they are typed.
func worded(text string) string { return remedy.Word(text, terminal{}) }

// terminal words marks for a command line: inputs are flags, verbs commands.
type terminal struct{}

func (terminal) Input(name, value string) string {
	switch value {
	case "":
		return "--" + name
	case "true", "false":
		return "--" + name + "=" + value
	}
	return "--" + name + " " + quoted(value)
}

func (terminal) Verb(words []string) string {
	for i, w := range words {
		if !strings.HasPrefix(w, "--") && i > 0 {
			words[i] = quoted(w)
		}
	}
	return "masstone " + strings.Join(words, " ")
}

// keyParagraphs are those of jsonKeys by the type of the result: several commands
// answer alike, and all are made for each line that is run.
var keyParagraphs sync.Map

// jsonKeys is the paragraph of a help text that lists the keys of a result.
func jsonKeys(result any) string {
	of := reflect.TypeOf(result)
	text, made := keyParagraphs.Load(of)
	if !made {
		text = strings.Join(wrapped("JSON keys: "+workbench.Keys(result)+".", 82), "\n")
		keyParagraphs.Store(of, text)
	}
	return text.(string)
}
