package results

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/floor"
	"padjig/results/runs/runstest"
	"padjig/sequence"
)

// Units in doubt are asked after once: which of them left, and of which lots they are.
func TestSuspectsSayWhatWasShippedAndOfWhichLots(t *testing.T) {
	h := historyOf(t)
	lot := func(jig string, lots floor.Lots, simulated bool) {
		require.NoError(t, h.s.Floor.SaveLots(t.Context(), floor.LotChange{Jig: jig, Product: "GH-20", Simulated: simulated, Lots: lots, By: "Ines"}))
	}
	h.verify("J-0007", true)
	h.run("24-000001", "J-0007", 100)
	lot("J-0007", floor.Lots{"membrane": "M-1", "dome": "D-1"}, false)
	lot("J-0008", floor.Lots{"membrane": "M-8"}, false)
	lot("J-0007", floor.Lots{"membrane": "M-9"}, true)
	h.run("24-000002", "J-0007", 100)
	h.run("24-000003", "J-0007", 100)
	lot("J-0007", floor.Lots{"membrane": "M-2"}, false)
	h.run("24-000003", "J-0007", 100) // again: it is of the lot that it was first tested with
	h.run("24-000004", "J-0007", 100)
	h.verify("J-0007", false)
	h.ships(floor.Shipment{Consignee: "Glasshouse North"}, "24-000001", "24-000003")
	h.ships(floor.Shipment{}, "24-000002")
	h.ships(floor.Shipment{InStock: true}, "24-000002")
	h.verify("J-0007", true) // the window ends, and stays to be asked after
	h.verify("J-0007", true)

	w := h.windows("J-0007")[1]
	var lots []string
	for _, l := range w.Lots() {
		lots = append(lots, fmt.Sprint(l.Material, " ", l.Lot, ": ", l.Units))
	}
	assert.Equal(t, []string{"membrane M-1: 2", "membrane M-2: 1", "dome D-1: 3"}, lots)
	assert.Equal(t, 2, w.Shipped())
	where := map[string]string{}
	for _, u := range w.Units {
		if u.Shipment != nil {
			where[u.Serial] = u.Shipment.Where() + " " + u.Shipment.Consignee
		}
		assert.Equal(t, u.Shipment != nil && !u.Shipment.InStock, u.Left())
	}
	assert.Equal(t, map[string]string{
		"24-000001": "shipped Glasshouse North", "24-000003": "shipped Glasshouse North", "24-000002": "in stock ",
	}, where)
}

func (h history) ships(c floor.Shipment, serials ...string) {
	h.Helper()
	c.By = "Ines"
	require.NoError(h, h.s.Floor.SaveShipment(h.Context(), serials, c))
}

// A number that was misread, a unit that has not passed and one that left before stop the
// whole list, and nothing of it is recorded.
func TestShipmentsAreRecordedWholeOrNotAtAll(t *testing.T) {
	h := historyOf(t)
	h.run("24-000001", "J-0007", 100)
	h.run("24-000002", "J-0007", 100)
	h.fail("24-000002", "J-0007") // passed, then failed
	h.fail("24-000003", "J-0007")
	h.run("24-000004", "J-0007", 100)
	study := runstest.Of(h.rev, runstest.Passed("24-000005"))
	study.Purpose = sequence.GaugeStudy
	_, err := h.s.Runs.Save(t.Context(), h.rev, study)
	require.NoError(t, err)
	practice := runstest.Of(h.rev, runstest.Passed("24-000006"))
	practice.Simulated = true
	_, err = h.s.Runs.Save(t.Context(), h.rev, practice)
	require.NoError(t, err)
	h.ships(floor.Shipment{}, "24-000004")

	count := func() (n int) {
		require.NoError(t, raw(h.s).QueryRow(`SELECT count(*) FROM shipments`).Scan(&n))
		return n
	}
	list := []string{"24-000001", "24-000002", "24-000003", "24-000004", "24-000005", "24-000006", "24-00000I"}
	err = h.s.Floor.SaveShipment(t.Context(), list, floor.Shipment{By: "Ines"})
	var refused *floor.ShipmentError
	require.ErrorAs(t, err, &refused)
	assert.Equal(t, "24-000002 has not passed by its last judgement; 24-000003 has not passed by its last judgement; "+
		"24-000004 is recorded as shipped already; 24-000005 has not passed by its last judgement; 24-000006 was never tested; "+
		"24-00000I was never tested", refused.Error())
	assert.Equal(t, 1, count())

	h.ships(floor.Shipment{Although: "agreed with the customer"}, "24-000003")
	h.ships(floor.Shipment{Simulated: true}, "24-000006")
	assert.Equal(t, 3, count())
	for _, statement := range []string{`UPDATE shipment SET consignee = 'x'`, `DELETE FROM shipment`} {
		_, err = raw(h.s).Exec(statement)
		require.ErrorContains(t, err, "append-only")
	}
}
