"""Addresses of the API."""

from __future__ import annotations

from django.urls import include, path, re_path
from drf_spectacular.views import SpectacularAPIView, SpectacularSwaggerSplitView
from rest_framework.routers import SimpleRouter

from scheduling.api.views.access import MeView, TokenView
from scheduling.api.views.actuals import ActualView, CollectionView, PickUpView
from scheduling.api.views.audit import AuditEntryView
from scheduling.api.views.calibrations import CalibrationView
from scheduling.api.views.duties import FeedKeyView, OutageView
from scheduling.api.views.firings import FiringView, OccupancyView
from scheduling.api.views.kiln_jobs import KilnAnswerView, KilnJobView, MouldView, OpenFiringView
from scheduling.api.views.line import WaitingPlaceView
from scheduling.api.views.messages import MessageView
from scheduling.api.views.offers import BestStartView, OptionView, WeeklyTimesView
from scheduling.api.views.other_calendars import OtherCalendarView
from scheduling.api.views.pieces import PieceView
from scheduling.api.views.places import CourseView, EquipmentView, GlassView, StudioView, SupplyView
from scheduling.api.views.problems import NowhereView, ProblemView
from scheduling.api.views.promises import AcknowledgementView, EarlierCourseView, SafetyTextView
from scheduling.api.views.roster import PaidSeatView, RosterView
from scheduling.api.views.seats import SeatView
from scheduling.api.views.series import SeriesView
from scheduling.api.views.sessions import SessionView
from scheduling.api.views.stores import ChargeProposalView, ChargeView, PotLevelView, RefillView
from scheduling.api.views.ticks import DutyView, TickView

app_name = "api"

router = SimpleRouter(use_regex_path=False)
router.register("token", TokenView, basename="token")
router.register("studios", StudioView, basename="studio")
router.register("equipment", EquipmentView, basename="equipment")
router.register("calibrations", CalibrationView, basename="calibration")
router.register("supplies", SupplyView, basename="supply")
router.register("refills", RefillView, basename="refill")
router.register("charges", ChargeView, basename="charge")
router.register("pot-levels", PotLevelView, basename="pot-level")
router.register("charge-proposals", ChargeProposalView, basename="charge-proposal")
router.register("glasses", GlassView, basename="glass")
router.register("courses", CourseView, basename="course")
router.register("options", OptionView, basename="option")
router.register("best-starts", BestStartView, basename="best-start")
router.register("weekly-times", WeeklyTimesView, basename="weekly-time")
router.register("series", SeriesView, basename="series")
router.register("sessions", SessionView, basename="session")
router.register("seats", SeatView, basename="seat")
router.register("safety-texts", SafetyTextView, basename="safety-text")
router.register("acknowledgements", AcknowledgementView, basename="acknowledgement")
router.register("earlier-courses", EarlierCourseView, basename="earlier-course")
router.register("waiting-places", WaitingPlaceView, basename="waiting-place")
router.register("rosters", RosterView, basename="roster")
router.register("paid-seats", PaidSeatView, basename="paid-seat")
router.register("firings", FiringView, basename="firing")
router.register("kiln-jobs", KilnJobView, basename="kiln-job")
router.register("kiln-answers", KilnAnswerView, basename="kiln-answer")
router.register("open-firings", OpenFiringView, basename="open-firing")
router.register("moulds", MouldView, basename="mould")
router.register("pieces", PieceView, basename="piece")
router.register("actuals", ActualView, basename="actual")
router.register("pick-ups", PickUpView, basename="pick-up")
router.register("collections", CollectionView, basename="collection")
router.register("occupancies", OccupancyView, basename="occupancy")
router.register("duties", DutyView, basename="duty")
router.register("ticks", TickView, basename="tick")
router.register("outages", OutageView, basename="outage")
router.register("messages", MessageView, basename="message")
router.register("audit-entries", AuditEntryView, basename="audit-entry")
router.register("feed-keys", FeedKeyView, basename="feed-key")
router.register("other-calendars", OtherCalendarView, basename="other-calendar")

me = MeView.as_view({"get": "retrieve"})
my_token = MeView.as_view({"delete": "withdraw_token"})
problem = ProblemView.as_view({"get": "retrieve"})

urlpatterns = [
    path("schema", SpectacularAPIView.as_view(), name="schema"),
    path("schema/", SpectacularAPIView.as_view()),
    path("docs/", SpectacularSwaggerSplitView.as_view(url_name="api:schema"), name="docs"),
    path("me/", me, name="me"),
    path("me/token/", my_token, name="my-token"),
    path("problems/<slug:code>/", problem, name="problem-detail"),
    path("", include(router.urls)),
    re_path("^", NowhereView.as_view(), name="nowhere"),
]
