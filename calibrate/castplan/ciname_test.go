package castplan_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/calibrate/castplan"
)

func TestWhiteByName(t *testing.T) {
	for name, want := range map[string]bool{"PW6": true, "PW 6": true, "pw04": true, "Pigment White 6": true, "PW6:1": true,
		"PW18": false, "PW22": false, "PR254": false, "PBk7": false, "": false, "white": false, "PW": false} {
		require.Equal(t, want, castplan.WhiteByName(name), name)
	}
}
