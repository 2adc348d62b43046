package main

import (
	_ "embed"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/server"
	"padjig/cmd/padjig/command/simulated"
	"padjig/cmd/padjig/command/terminal"
	"padjig/cmd/padjig/demo"
	"padjig/cmd/padjig/quality"
)

// What the tests of the whole program use of its rooms, by the names that they have
// here.

type (
	served         = server.Station
	stationOptions = server.Options

	simulatedJig = simulated.Process
	simulation   = simulated.Setup

	planted = demo.Planted
	want    = demo.Want

	voice = terminal.Voice
)

const (
	plainWidth = terminal.PlainWidth

	statusOK          = command.OK
	statusFail        = command.Failed
	statusWrong       = command.Wrong
	statusNotMeasured = command.NotMeasured
	statusNotRecorded = command.NotRecorded
)

var (
	complain   = command.Complain
	must       = command.Must
	openPseudo = simulated.OpenPort
	openStore  = command.OpenStore
	recordsOf  = command.RecordsOf

	lot    = demo.Lot
	passes = demo.Passes

	newQuality = quality.Command

	//go:embed demo/gcc-20.yaml
	demoProduct []byte
)
