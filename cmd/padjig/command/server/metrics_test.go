package server

import (
	"testing"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/assert"
)

// Metrics are open only where nobody but this computer can read them, by a proxy neither.
func TestMetricsOpenIsForThisComputer(t *testing.T) {
	for _, o := range []Options{{Listen: "0.0.0.0:8317"}, {Listen: "[::]:8317"}, {Listen: "192.0.2.1:443"}, {Listen: "127.0.0.1:8317", Hosts: []string{"l2.plant.example"}}} {
		o.MetricsOpen = true
		_, err := o.Build(&cobra.Command{}, nil)
		assert.ErrorContains(t, err, "--metrics-open is for a station that this computer alone can reach")
		o.MetricsOpen, o.Press = false, "foot"
		_, err = o.Build(&cobra.Command{}, nil)
		assert.ErrorContains(t, err, "foot", "the next thing that is wrong")
	}
	o := Options{Listen: "localhost:8317", MetricsOpen: true, Press: "foot"}
	_, err := o.Build(&cobra.Command{}, nil)
	assert.ErrorContains(t, err, "foot")
}
