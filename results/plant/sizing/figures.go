package sizing

// Here is what was measured; docs/sizing.md says on what machine, and how.
func Here() Measured {
	return Measured{
		Runs: 100_000, RowsOfRun: 43.96, BytesKept: 1365, BytesReadings: 6350, BytesOther: 1008, BytesParquet: 495, BytesLog: 8150,
		ForwardRows: 8250, CopyRows: 78_800,
	}
}
