package serve

import (
	"bytes"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/accounts"
	"padjig/results/floor"
)

// Where accounts are managed, sign-ins and failed tries are shown.
func TestAttemptsAreShown(t *testing.T) {
	at := time.Date(2026, 11, 29, 6, 0, 0, 0, time.Local)
	list := []accounts.SignIn{
		{Name: "Ines", Address: "192.0.2.7", How: "password", Outcome: accounts.SignInTooMany, At: at},
		{Address: "2001:db8::/64", How: "badge", Outcome: accounts.SignInWrong, At: at},
	}
	var out bytes.Buffer
	require.NoError(t, showAttempts(&out, floor.Clock{}, list, false))
	assert.Equal(t, `2026-11-29 06:00:00 UTC  too many  password  Ines                 192.0.2.7
2026-11-29 06:00:00 UTC  wrong     badge     -                    2001:db8::/64
`, out.String())
	out.Reset()
	require.NoError(t, showAttempts(&out, floor.Clock{}, nil, true))
	assert.JSONEq(t, `{"schema": "sign-ins-1", "attempts": []}`, out.String())
}
