package main

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/cmd/masstone/licences"
)

// What go list says is compiled into the program has its terms in it, and nothing
// else has.
func TestEveryModuleIsThere(t *testing.T) {
	used, err := compiled()
	require.NoError(t, err)
	require.NotEmpty(t, used)
	all, err := licences.All()
	require.NoError(t, err)
	require.Equal(t, "go", all[0].Module)
	has := map[string]string{}
	for _, m := range all {
		has[m.Module] = m.Version
		assert.NotEmpty(t, m.Licences, "%s: no known licence in its texts", m.Module)
		for _, text := range m.Texts {
			assert.NotEmpty(t, text.Text, "%s %s", m.Module, text.File)
		}
	}
	delete(has, "go")
	want := map[string]string{}
	for path, m := range used {
		want[path] = m.version
	}
	assert.Equal(t, want, has, "run go run ./cmd/masstone/licences/generate")
}
