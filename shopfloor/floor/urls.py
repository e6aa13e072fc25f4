from django.urls import path

from shopfloor.floor import bags, enrol, findings, glue, made_here, rack, room, signing_in, step_views, views
from shopfloor.floor.tablet_worker import tablet_worker

app_name = "floor"
urlpatterns = [
    path("", views.stations, name="stations"),
    path("enrol/", enrol.enrol_device, name="enrol"),
    path("tablet-worker.js", tablet_worker, name="tablet_worker"),
    path("<slug:code>/", views.queue, name="queue"),
    path("<slug:code>/sign-in/", signing_in.sign_in, name="sign_in"),
    path("<slug:code>/sign-in/<int:pk>/", signing_in.enter_pin, name="enter_pin"),
    path("<slug:code>/rack/", rack.choose, name="rack"),
    path("<slug:code>/rack/sign/", rack.sign, name="rack_sign"),
    path("<slug:code>/photo/<int:pk>/", findings.photo, name="photo"),
    path("<slug:code>/room/", room.read, name="room"),
    path("<slug:code>/glue/", glue.glue, name="glue"),
    path("<slug:code>/glue/mix/", glue.mix, name="mix"),
    path("<slug:code>/glue/<int:pk>/used-up/", glue.used_up, name="used_up"),
    path("<slug:code>/made-here/", made_here.made_lots, name="made_here"),
    path("<slug:code>/made-here/<int:pk>/sign/", made_here.sign_made_lot, name="sign_made_here"),
    path("<slug:code>/sign-out/", signing_in.sign_out, name="sign_out"),
    path("<slug:code>/shell/<str:serial>/", step_views.step, name="step"),
    path("<slug:code>/shell/<str:serial>/bags/", bags.bags, name="bags"),
    path("<slug:code>/shell/<str:serial>/bags/<int:place>/label/", bags.bag_label, name="bag_label"),
    path("<slug:code>/shell/<str:serial>/sign/", step_views.sign, name="sign"),
    path("<slug:code>/shell/<str:serial>/start/", step_views.start, name="start"),
    path("<slug:code>/shell/<str:serial>/pause/", step_views.pause, name="pause"),
    path("<slug:code>/shell/<str:serial>/problem/", findings.problem, name="problem"),
    path("<slug:code>/shell/<str:serial>/withdraw/", step_views.withdraw, name="withdraw"),
    path("<slug:code>/shell/<str:serial>/settle/", findings.settle, name="settle"),
    path("<slug:code>/shell/<str:serial>/rework/", findings.rework_here, name="rework"),
    path("<slug:code>/shell/<str:serial>/thickness/", step_views.thickness, name="thickness"),
]
