"""Addresses of the whole house."""

from django.contrib import admin
from django.urls import include, path

urlpatterns = [
    path("house/records/", admin.site.urls),
    path("sign-in/", include("allauth.urls")),
    path("", include("sites.urls")),
]
