"""The demonstration's story: the keeper follows the advice for three days, and each thing done is told."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta

from dawnlevel.desk.advice.explain import explain_view
from dawnlevel.desk.advice.tomorrow import plan_view
from dawnlevel.desk.evenness.spread import spread_view
from dawnlevel.desk.phrases import band_in_other, chance, clock, day_text, quantity_text
from dawnlevel.desk.records import describe_tank, withdraw_record
from dawnlevel.desk.views import PlanView, TodayView
from dawnlevel.desk.wording import rate_text
from dawnlevel.practice import scenario
from dawnlevel.practice.scenario import StoryTank, moment
from dawnlevel.rehearsal.keeper import Keeper
from dawnlevel.store import Store
from dawnlevel.tank import (
    BaselineCup,
    BaselineMethod,
    Buffer,
    BufferCheck,
    CylinderExchange,
    CylinderStandard,
    CylinderWeighing,
    KhTitration,
    Record,
    SolutionPrepared,
    SurveyReading,
)


@dataclass(frozen=True, slots=True)
class Event:
    """One thing told: when it happened (wall clock of the tank), what, and why."""

    at: datetime
    text: str
    why: str = ""


Tell = Callable[[Event], None]


def end_of_story() -> datetime:
    """The moment (UTC) at which the story stands still: the evening of the last tuning day."""
    return moment(24.0 * scenario.TUNING_DAYS + scenario.EVENING_H)


class Story:
    """Plays the scenario's tank through its tuning days; the records go into `store`."""

    def __init__(self, store: Store, tank: StoryTank, tell: Tell) -> None:
        self.tank = tank
        self.keeper = Keeper(tank, store, scenario.keepers_tank())
        self.store = store
        self._tell = tell
        self._baseline_ph = 0.0

    def play(self) -> None:
        """The evening before, then every tuning day."""
        still_cup = self._before()
        for day in range(1, scenario.TUNING_DAYS + 1):
            self.keeper.wait_until(moment(24.0 * day + scenario.MORNING_H))
            if day == 1:
                still_cup = self._cup(BaselineMethod.STILL_CUP, scenario.STILL_CUP_HOURS)
                self._plan()
            elif day == scenario.BUFFERS_DAY:
                self._buffers()
                self._better_cup(still_cup)
                self._plan()
            self._gas_day(day)
            self._evening(day)

    def say(self, text: str, why: str = "") -> None:
        """Tell one thing that happens now."""
        self._tell(Event(self.keeper.now.astimezone(self.keeper.zone), text, why))

    def note(self, new: Record) -> int:
        """Record one thing; its number."""
        return self.keeper.note(new).id

    def _before(self) -> int:
        """The first evening: the tank is described and the KH counted."""
        tank, now = self.keeper.described, self.keeper.now
        describe_tank(self.store, tank, now, now)
        self.say(
            f"The tank is described: {tank.volume_l:g} L, {tank.depth_cm:g} cm deep, {tank.planting} plants, "
            f"{tank.surface} surface, lights {tank.photoperiod.lights_on_h:.0f} to "
            f"{tank.photoperiod.lights_off_h:.0f} o'clock, target drop {tank.target.low:g} to "
            f"{tank.target.high:g}, ceiling {tank.co2_limit_mg_l:g} mg/L."
        )
        kh = scenario.KH_COUNT_DKH
        number = self.note(KhTitration(at=now, kh_dkh=kh))
        self.say(f"KH kit: {kh:g} drops of 1 dKH. A cup of tank water is left standing overnight.")
        self._gas_and_cell()
        return number

    def _gas_and_cell(self) -> None:
        """A fresh cylinder is weighed and connected, and the indicator cell filled."""
        now, gas_kg, (weighed_kg, _) = self.keeper.now, scenario.CYLINDER_KG, scenario.WEIGHED_KG
        exchange = CylinderExchange(
            at=now,
            gas_kg=gas_kg,
            tare_kg=scenario.CYLINDER_TARE_KG,
            capacity_l=scenario.CYLINDER_CAPACITY_L,
            standard=CylinderStandard.ADR,
            tested=scenario.CYLINDER_TESTED,
        )
        cell = SolutionPrepared(
            at=now,
            kh_dkh=scenario.CELL_SOLUTION_DKH,
            error_percent=scenario.CELL_SOLUTION_ERROR_PERCENT,
        )
        for new in (exchange, CylinderWeighing(at=now, gross_kg=weighed_kg), cell):
            self.note(new)
        self.say(
            f"A cylinder with {gas_kg:g} kg of gas is connected: {weighed_kg:g} kg with its regulator. "
            f"Fresh {scenario.CELL_SOLUTION_DKH:g} dKH solution goes into the indicator cell."
        )

    def _buffers(self) -> None:
        """The meter is held in two buffers, and left as it is."""
        low, high = (self.tank.read_buffer(one) for one in (Buffer.PHTHALATE, Buffer.PHOSPHATE))
        self.note(
            BufferCheck(
                at=self.keeper.now, low_ph=low, high_ph=high, temp_c=scenario.BUFFERS_C, adjusted=False
            )
        )
        self.say(
            f"While a cup is aerated, the meter is held in two fresh buffers: it shows {low:.2f} in pH 4 and "
            f"{high:.2f} in pH 7, and is left as it is.",
            "what it shows in buffers puts right all its readings, those before too; adjusted, it would be "
            "another meter from now on.",
        )

    def _survey(self) -> None:
        """PH at nine places, near the day's peak."""
        read: dict[str, float] = {}
        for place in scenario.SURVEY_PLACES:
            read[place] = self.tank.read_ph_at(place)
            self.note(SurveyReading(at=self.keeper.now, ph=read[place], place=place))
            self.keeper.wait_until(self.keeper.now + timedelta(minutes=scenario.SURVEY_STEP_MIN))
        highest = max(read, key=lambda place: read[place])
        self.say(
            f"The probe is held at {len(read)} places: pH {min(read.values()):.2f} to {read[highest]:.2f}, "
            f"the highest at {highest}.",
            spread_view(self.store, self.keeper.name, self.keeper.now).verdict,
        )

    def _cup(self, method: BaselineMethod, hours: float) -> int:
        """Read and record a baseline cup; the record's number."""
        ph = self.tank.read_cup(method)
        self._baseline_ph = ph
        number = self.note(BaselineCup(at=self.keeper.now, ph=ph, method=method, hours=hours))
        if method is BaselineMethod.STILL_CUP:
            self.say(f"The cup that stood still for {hours:g} h shows pH {ph:.2f}: the baseline, for now.")
        return number

    def _better_cup(self, still_cup: int) -> None:
        """An aerated cup takes the place of the one that only stood."""
        before = self._baseline_ph
        band = self.keeper.today().band
        self._cup(BaselineMethod.AERATED, scenario.AERATED_CUP_HOURS)
        name, _ = withdraw_record(self.store, still_cup)
        difference = self._baseline_ph - before
        self.say(
            f"A cup aerated for {scenario.AERATED_CUP_HOURS:g} h shows pH {self._baseline_ph:.2f}, "
            f"{difference:.2f} above the one that stood overnight; that one is withdrawn.",
            "a still cup keeps part of its CO2, so every drop counted from it came out "
            f"{difference:.2f} too small. The target, {band_in_other(band)} by the first cup, is "
            f"{band_in_other(self.keeper.today().band)} for {name}.",
        )

    def _plan(self) -> PlanView:
        """Ask for the plan of the next gas day and accept it."""
        plan = plan_view(self.store, self.keeper.name, self.keeper.now)
        self.keeper.accept(plan)
        windows = ", ".join(f"{clock(span.opens)} to {clock(span.closes)}" for span in plan.windows)
        needle = rate_text(plan.rate_bps) if plan.needle_changes else "needle left alone"
        self.say(
            f"Plan for {day_text(plan.lights_on)}: gas {windows}, {needle}; chance to hit and hold the "
            f"band {chance(plan.chance_held)}.",
            plan.out_of_reach or plan.reasons[0],
        )
        return plan

    def _gas_day(self, day: int) -> None:
        """The day's readings when the advice asks for them, lights-on, and a look at the cell."""
        lights_on = moment(24.0 * day + self.keeper.described.photoperiod.lights_on_h)
        cell_at = lights_on + timedelta(hours=scenario.CELL_AFTER_LIGHTS_H)
        evening = moment(24.0 * day + scenario.EVENING_H)
        survey_at = lights_on + timedelta(hours=scenario.SURVEY_AFTER_LIGHTS_H)
        has_survey = day == scenario.SURVEY_DAY
        view = self.keeper.today()
        while True:
            read_at = view.next_reading.at if view.next_reading else None
            now = self.keeper.now
            planned = (lights_on, cell_at, survey_at if has_survey else None, read_at)
            stops = [at for at in planned if at is not None and now < at < evening]
            if not stops:
                return
            self.keeper.wait_until(min(stops))
            if min(stops) == lights_on:
                self._lights_on(view)
            elif min(stops) == cell_at:
                self.say(f"The indicator cell is {self.keeper.look_at_cell()}.")
            elif min(stops) == survey_at:
                self._survey()
            else:
                view = self._read()

    def _read(self) -> TodayView:
        """Read, ask, do what the advice says."""
        ph, fish = self.keeper.read_ph(), self.keeper.watch_fish()
        view = self.keeper.today()
        self.say(f"pH {ph:.2f}, fish {fish}. {view.action.text}", view.action.reason)
        self.keeper.act(view.action)
        return view

    def _lights_on(self, view: TodayView) -> None:
        """What the truth is at lights-on, which only a practice tank can tell."""
        truth = self.tank.truth()
        drop, band = self._baseline_ph - truth["ph"], view.band
        inside = "in the band" if band.low <= drop <= band.high else "outside the band"
        told = view.forecast_if_done or view.forecast
        forecast = (
            ""
            if told is None
            else f" The last forecast was {quantity_text(told.quantity.median, band)} "
            f"(9 in 10 {told.quantity.low_90:.2f} to {told.quantity.high_90:.2f})."
        )
        self.say(
            f"LIGHTS ON. The truth, which only a practice tank tells: drop {drop:.2f}, {inside}, "
            f"{truth['co2_mg_l']:.1f} mg/L.{forecast}"
        )
        changed = self.keeper.act_at_lights_on()
        if changed is not None:
            self.say(f"The needle goes to {rate_text(changed)}, as advised for now.")

    def _evening(self, day: int) -> None:
        """How the day went by the records, who is suspected, and tomorrow's plan."""
        self.keeper.wait_until(moment(24.0 * day + scenario.EVENING_H))
        done = self.keeper.today().days[-1]
        if day == 1:
            suspects = explain_view(self.store, self.keeper.name, self.keeper.now).culprits
            named = " and ".join(f"{one.label} ({chance(one.probability)})" for one in suspects[:2])
            self.say(
                f"The day by the records: hit and held {chance(done.dialled_in)}. Asked what may be wrong, "
                f"`explain` names first {named}. Cup and meter are soonest put right: in the morning the "
                "keeper will aerate a cup, and hold the meter in buffers meanwhile."
            )
            return
        self.say(f"The day by the records: hit and held {chance(done.dialled_in)}.")
        if day == scenario.WEIGHED_DAY:
            weighed_kg = scenario.WEIGHED_KG[1]
            self.note(CylinderWeighing(at=self.keeper.now, gross_kg=weighed_kg))
            self.say(f"The cylinder stands on the scale again: {weighed_kg:g} kg.")
        self._plan()
