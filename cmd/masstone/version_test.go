package main

import (
	"runtime/debug"
	"testing"

	"github.com/stretchr/testify/assert"
)

// The keys are those of runtime/debug's documentation of BuildSetting.
func TestVersionNamesTheCommit(t *testing.T) {
	commit := debug.BuildSetting{Key: "vcs.revision", Value: "1f2e3d4c5b6a798081920a1b2c3d4e5f60718293"}
	day := debug.BuildSetting{Key: "vcs.time", Value: "2026-03-31T12:00:00Z"}
	for want, settings := range map[string][]debug.BuildSetting{
		"0.1 (go1.26.8)": nil,
		"0.1 (commit 1f2e3d4c5b6a of 2026-03-31, go1.26.8)":             {commit, day, {Key: "vcs.modified", Value: "false"}},
		"0.1 (commit 1f2e3d4c5b6a of 2026-03-31 and changes, go1.26.8)": {commit, day, {Key: "vcs.modified", Value: "true"}},
		"0.1 (commit 1f2e3d4, go1.26.8)":                                {{Key: "vcs.revision", Value: "1f2e3d4"}},
	} {
		assert.Equal(t, want, versionOf(&debug.BuildInfo{GoVersion: "go1.26.8", Settings: settings}))
	}
}
