package legible

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Worked by hand with tan(8') = 0.00232711: 2 x 3 m x 0.00232711 = 13.96 mm. At small
// angles it is distance times angle in radians: 16' = 0.00465421.
func TestHeight(t *testing.T) {
	for _, c := range []struct{ d, minutes, want float64 }{
		{3000, 16, 13.963}, {1000, 16, 4.654}, {500, 16, 2.327}, {3000, 22, 19.199}, {1, 60 * 90, 2},
	} {
		assert.InDelta(t, c.want, Height(c.d, c.minutes), 0.0006, c)
	}
}

func TestScreens(t *testing.T) {
	for _, c := range []struct {
		screen, distance string
		want             Screen
	}{
		{"", "", Screen{Diagonal: 609.6, Distance: 3000}},
		{"15.6in", "3m", Screen{Diagonal: 396.24, Distance: 3000}},
		{"531mm", "250 cm", Screen{Width: 531, Distance: 2500}},
		{"53cm", "1.2m", Screen{Width: 530, Distance: 1200}},
	} {
		s, err := Of(c.screen, c.distance)
		require.NoError(t, err)
		assert.InDelta(t, c.want.Diagonal, s.Diagonal, 1e-9)
		assert.InDelta(t, c.want.Width, s.Width, 1e-9)
		assert.InDelta(t, c.want.Distance, s.Distance, 1e-9)
	}
	for _, c := range [][2]string{{"24", ""}, {"in", ""}, {"-3in", ""}, {"NaNmm", ""}, {"24in", "3"}, {"24in", "3km"}, {"24in", "1mm"}, {"9000in", ""}} {
		_, err := Of(c[0], c[1])
		assert.Error(t, err, c)
	}
}

// On a screen of 15.6 inches, 194 mm high, there is room for letters of 6.7 mm, which
// are read from 1.4 m; one of 24 inches, 299 mm high, has room for those of 3 m.
func TestHowFarAScreenIsRead(t *testing.T) {
	for screen, far := range map[string]float64{"15.6in": 1445, "24in": 3693, "531mm": 3689, "10in": 0} {
		s, err := Of(screen, "3m")
		require.NoError(t, err)
		assert.InDelta(t, far, s.Farthest(), 3, screen)
		assert.Equal(t, far < 3000, s.TooSmall(), screen)
	}
	rapid.Check(t, func(t *rapid.T) {
		s := Screen{Diagonal: rapid.Float64Range(130, 3000).Draw(t, "diagonal"), Distance: rapid.Float64Range(300, 20000).Draw(t, "distance")}
		if s.TooSmall() {
			return
		}
		nearer := s
		nearer.Distance *= 0.9
		assert.False(t, nearer.TooSmall(), "what is read from afar is read from nearer")
		assert.LessOrEqual(t, inLetters*s.Letter()+besides, s.High()+1e-6)
	})
}

func TestStyle(t *testing.T) {
	byDiagonal, err := Of("24in", "3m")
	require.NoError(t, err)
	assert.Contains(t, byDiagonal.Style(), "--mm: calc(hypot(100vw, 100vh) / 609.6);")
	assert.Contains(t, byDiagonal.Style(), "--letter: calc(13.9627 * var(--mm));", fmt.Sprint(byDiagonal.Letter()))
	byWidth, err := Of("531mm", "1m")
	require.NoError(t, err)
	assert.Contains(t, byWidth.Style(), "--mm: calc(100vw / 531);")
}
